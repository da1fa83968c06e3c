// Where the server that owns a depot file listens for the programs of this machine. Both sides
// compute it: the server to listen, the command line to find it.
#pragma once

#include <string>

#include "absl/status/statusor.h"

namespace ferrule::service {

// "FILE.sock" beside the file, whose name is made absolute first. A socket's name holds at most 107
// bytes; a longer one goes into the runtime folder of the file's owner (/run/user/UID, else /tmp)
// under a name made from the file's. NotFound when the file's folder does not exist.
absl::StatusOr<std::string> SocketPathFor(const std::string& depot_file);

// Whether somebody who may be trusted listens there: a socket that belongs to the file's owner, to
// the caller or to root.
bool SocketIsTrusted(const std::string& socket_path, const std::string& depot_file);

}  // namespace ferrule::service
