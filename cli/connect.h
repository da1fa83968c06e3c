// The way to the depot: a server over TCP, the server that owns a depot file over its local socket,
// or the same service in this process when the file is free. Nothing else in the command line knows
// which of them it is.
#pragma once

#include <memory>
#include <optional>
#include <string>

#include "absl/status/statusor.h"
#include "grpcpp/channel.h"

namespace ferrule::cli {

struct Target {
  std::optional<std::string> server;  // "HOST:PORT"
  std::optional<std::string> depot;   // a file
};

struct Way {
  std::shared_ptr<grpc::Channel> channel;
  std::shared_ptr<void> host;  // keeps a service in this process alive; null otherwise
  std::string where;           // for messages: "depot.ferrule" or "127.0.0.1:7443"
};

// InvalidArgument when no depot or too many are named; marked CannotReach otherwise.
absl::StatusOr<Way> Connect(const Target& target);

// Makes a new depot file. AlreadyExists when there is a file of that name.
absl::Status CreateDepot(const std::string& file);

}  // namespace ferrule::cli
