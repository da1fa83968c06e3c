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
absl::Status CheckVersion(Connection& connection);
// The same; FailedPrecondition also while MustRebuild.
absl::Status CheckSchema(Connection& connection);

// Brings the store to the program's version; a no-op when it is there. Refuses a newer one. What
// follows from an older store's facts must then be written anew: ledger::Rebuild.
absl::Status Migrate(Connection& writer);
// Whether that is still to be done; and that it was, inside the transaction that did so.
absl::StatusOr<bool> MustRebuild(Connection& connection);
absl::Status Rebuilt(Connection& writer);

}  // namespace ferrule::store
