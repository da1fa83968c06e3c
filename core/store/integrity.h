// What the engine itself finds wrong in what it keeps.
#pragma once

#include <string>
#include <vector>

#include "absl/status/statusor.h"
#include "core/store/connection.h"

namespace ferrule::store {

// Faults of pages, indexes and references, at most 20, each a sentence; empty when there are none.
// SQLite: its integrity check and its check of foreign keys. PostgreSQL: every index of the depot's
// schema held against its table, where the extension amcheck is installed and this role may use it;
// otherwise nothing is asked. Outside of a transaction. DataLoss when the damage keeps the engine
// from looking at all. Reads the whole store.
absl::StatusOr<std::vector<std::string>> EngineFaults(Connection& connection);

}  // namespace ferrule::store
