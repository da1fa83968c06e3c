// Opening a depot: a SQLite file or a PostgreSQL database.
#pragma once

#include <chrono>
#include <memory>
#include <string>

#include "absl/status/statusor.h"
#include "core/store/connection.h"

namespace ferrule::store {

struct SqliteOptions {
  std::string path;
  bool create = false;  // make the file when there is none; otherwise NotFound
  // How long to wait for another process that has the file before saying who.
  std::chrono::milliseconds lock_wait{2000};
};

// Takes the lock beside the file ("PATH.lock", holding pid and host of the owner) and opens it.
// Unavailable, naming the owner, when another process has it; FailedPrecondition when the file is
// no depot. Does not look at the schema version: see migrate.h.
absl::StatusOr<std::unique_ptr<Database>> OpenSqlite(const SqliteOptions& options);

// A depot in memory, for tests: one connection only, OpenReader is Unimplemented.
absl::StatusOr<std::unique_ptr<Database>> OpenSqliteInMemory();

// A PostgreSQL database by libpq connection string.
absl::StatusOr<std::unique_ptr<Database>> OpenPostgres(const std::string& conninfo);

}  // namespace ferrule::store
