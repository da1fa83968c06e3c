// The schema: numbered SQL files compiled in, run forward only, one transaction each
// (all of them in one for a new depot), recorded.
#pragma once

#include "absl/status/statusor.h"
#include "core/store/connection.h"

namespace ferrule::store {

// The schema version that this program needs.
int ProgramSchemaVersion();

// The version of the store; 0 when it is empty.
absl::StatusOr<int> SchemaVersion(Connection& connection);

// OK when the store has the program's version. FailedPrecondition otherwise, with the command to
// run when it is older ("ferruled migrate") and with the version needed when it is newer.
absl::Status CheckSchema(Connection& connection);

// Brings the store to the program's version; a no-op when it is there. Refuses a newer one.
absl::Status Migrate(Connection& writer);

}  // namespace ferrule::store
