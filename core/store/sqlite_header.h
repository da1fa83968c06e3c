// What a file is, told from its first bytes without SQLite touching it. Inside core/store only.
#pragma once

#include <cstdint>
#include <string>

#include "absl/status/statusor.h"

namespace ferrule::store {

// The mark of a depot file at byte 68 of SQLite's file header: "FRRL".
inline constexpr int32_t kApplicationId = 0x4652524C;

enum class SqliteFile {
  kNone,   // missing or empty
  kDepot,  // carries the mark
};

// FailedPrecondition when the file is something else; DataLoss when its header is cut off.
// Never call it while this process has the file open in SQLite: closing the second descriptor
// would drop SQLite's own locks on it.
absl::StatusOr<SqliteFile> ReadSqliteHeader(const std::string& path);

}  // namespace ferrule::store
