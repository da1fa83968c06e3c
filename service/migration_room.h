// Whether there is room for a migration, asked before it changes anything.
#pragma once

#include <string>

#include "absl/status/status.h"

namespace ferrule::service {

// What a migration of a depot file takes on its disk while it runs: as much as the depot for the
// copy that it keeps (`with_copy`; one that finishes another has kept its copy), and as much again
// for the log of everything that is written anew, with a margin for what it adds, the larger when
// `from_version` has no intervals. ResourceExhausted, naming the sum, the disk and what
// is free there, when there is less. OK as well when the disk does not say: then the migration
// itself finds out, and loses nothing.
absl::Status RoomToMigrate(const std::string& depot_file, int from_version, bool with_copy);

}  // namespace ferrule::service
