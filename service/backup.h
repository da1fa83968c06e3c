// Copies of a depot file that can be trusted, and back. PostgreSQL has its own tools for this.
//
// A backup is two files: the copy, and TO.manifest.json with its size, SHA-256, schema, last
// position and digest. The copy is made in one step inside one snapshot, so it can be taken while
// a server records; it is checked (SQLite's integrity check, then the ledger's verify) and reaches
// the disk before it gets its name. What a killed run left beside the name, the next one removes.
#pragma once

#include <cstdint>
#include <functional>
#include <string>
#include <vector>

#include "absl/status/status.h"
#include "absl/status/statusor.h"

namespace ferrule::service {

struct BackupReport {
  std::string path;
  int64_t bytes = 0;
  std::string sha256;  // hex
  int schema_version = 0;
  int64_t head_sequence = 0;
  std::string head_digest;  // hex
  // The ledger's mark (core/ledger/whole.h, StoredEpoch): of a backup its source's, of a restore
  // its own new one.
  std::string epoch;
  int64_t facts = 0;
  // Temporary files beside it, made by this program on another machine: they may still be written.
  std::vector<std::string> left_alone;
};

using ProgressFn = std::function<void(int64_t entries)>;

// Backs up a depot file under a new name. NotFound: no such depot. FailedPrecondition: the name is
// taken, the file is no depot, or needs migration. DataLoss: the depot does not verify; nothing is
// left under the name. `created_us` goes into the manifest.
absl::StatusOr<BackupReport> Backup(const std::string& depot_file, const std::string& to,
                                    int64_t created_us, const ProgressFn& progress);

// Puts a backup in place under a new name, migrated if it is older, as a new epoch: readers of the
// feed start again. NotFound: no backup or no manifest. DataLoss: the copy is not what its manifest
// says, or does not verify. FailedPrecondition: `depot_file` exists, or its remains.
absl::StatusOr<BackupReport> Restore(const std::string& from, const std::string& depot_file,
                                     const ProgressFn& progress);

// A copy in one step, synced, checked by SQLite, and nothing more: what a migration leaves behind.
absl::Status PlainCopy(const std::string& depot_file, const std::string& to);

}  // namespace ferrule::service
