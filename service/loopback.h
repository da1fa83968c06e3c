// Addresses of this machine, for listeners that speak without encryption.
#pragma once

#include <sys/socket.h>

#include <string>
#include <string_view>

#include "absl/status/statusor.h"

namespace ferrule::service {

struct LoopbackAddress {
  sockaddr_storage storage{};
  socklen_t size = 0;
};

// Reads "HOST:PORT" (127.0.0.1, localhost or [::1]; port 0 takes a free one). `purpose` completes
// the error's sentence: "cannot PURPOSE on "HOST:PORT": ...". InvalidArgument when it is not well
// formed or not of this machine, with `why_loopback` as the reason for the latter.
absl::StatusOr<LoopbackAddress> ParseLoopback(const std::string& text, std::string_view purpose,
                                              std::string_view why_loopback);

// A socket that listens there; -1 when the address is taken or not to be had.
int ListenOn(const LoopbackAddress& address, int backlog);

// The port that a listening socket got.
int PortOf(int fd);

// Sends all of it, blocking; false when the peer has gone.
bool SendAll(int fd, std::string_view bytes);

}  // namespace ferrule::service
