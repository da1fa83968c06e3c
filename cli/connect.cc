#include "cli/connect.h"

#include <chrono>
#include <thread>
#include <utility>

#include "absl/strings/str_cat.h"
#include "cli/failure.h"
#include "core/time/clock.h"
#include "grpcpp/create_channel.h"
#include "grpcpp/security/credentials.h"
#include "service/depot_host.h"
#include "service/socket_path.h"

namespace ferrule::cli {
namespace {

using SteadyClock = std::chrono::steady_clock;

// Another short command holds the file for some milliseconds only.
constexpr std::chrono::seconds kPatience{2};
constexpr std::chrono::milliseconds kPause{5};
// A server on its socket answers at once, or the socket is left over from one that is gone.
constexpr std::chrono::milliseconds kSocketWait{500};

const time::Clock& MachineClock() {
  static const time::SystemClock clock;
  return clock;
}

// As few threads as the service runs on: a single command has a single call in flight.
service::HostOptions OptionsFor(const std::string& file) {
  service::HostOptions options;
  options.sqlite_path = file;
  options.lock_wait = std::chrono::milliseconds(0);
  options.clock = &MachineClock();
  options.lanes = 1;
  options.workers = 0;
  return options;
}

// The server that owns the file, by its socket; null when none answers there.
std::shared_ptr<grpc::Channel> OwningServer(const std::string& file) {
  const auto socket = service::SocketPathFor(file);
  if (!socket.ok() || !service::SocketIsTrusted(*socket, file)) return nullptr;
  grpc::ChannelArguments arguments;
  arguments.SetInt(GRPC_ARG_ENABLE_HTTP_PROXY, 0);
  auto channel =
      grpc::CreateCustomChannel("unix:" + *socket, grpc::InsecureChannelCredentials(), arguments);
  if (!channel->WaitForConnected(std::chrono::system_clock::now() + kSocketWait)) return nullptr;
  return channel;
}

absl::StatusOr<Way> ConnectToFile(const std::string& file) {
  const SteadyClock::time_point patience = SteadyClock::now() + kPatience;
  while (true) {
    auto host = service::OpenDepot(OptionsFor(file));
    if (host.ok()) {
      Way way;
      way.channel = (*host)->InProcess();
      way.host = std::shared_ptr<service::DepotHost>(*std::move(host));
      way.where = file;
      return way;
    }
    if (host.status().code() != absl::StatusCode::kUnavailable) {
      return CannotReach(host.status());
    }
    if (auto channel = OwningServer(file)) return Way{std::move(channel), nullptr, file};
    if (SteadyClock::now() >= patience) return CannotReach(host.status());
    std::this_thread::sleep_for(kPause);
  }
}

// A server that was away is looked for again soon: somebody waits at a counter.
constexpr int kLeastPauseMs = 200;
constexpr int kMostPauseMs = 1'000;

Way ConnectToServer(const std::string& address) {
  grpc::ChannelArguments arguments;
  arguments.SetInt(GRPC_ARG_INITIAL_RECONNECT_BACKOFF_MS, kLeastPauseMs);
  arguments.SetInt(GRPC_ARG_MIN_RECONNECT_BACKOFF_MS, kLeastPauseMs);
  arguments.SetInt(GRPC_ARG_MAX_RECONNECT_BACKOFF_MS, kMostPauseMs);
  return {grpc::CreateCustomChannel(address, grpc::InsecureChannelCredentials(), arguments),
          nullptr, address};
}

}  // namespace

absl::StatusOr<Way> Connect(const Target& target) {
  if (target.server.has_value() && target.depot.has_value()) {
    return absl::InvalidArgumentError(
        "both a server and a depot file are named; leave out --server (FERRULE_SERVER) or --depot "
        "(FERRULE_DEPOT)");
  }
  if (target.server.has_value()) return ConnectToServer(*target.server);
  if (target.depot.has_value()) return ConnectToFile(*target.depot);
  return absl::InvalidArgumentError(
      "no depot is named; add --depot FILE or set FERRULE_DEPOT, or make a new one with ferrule "
      "init FILE");
}

absl::Status CreateDepot(const std::string& file) {
  service::HostOptions options = OptionsFor(file);
  // A file that was begun on a full disk has no tables yet: it is finished, not refused.
  if (service::OpenDepot(options).ok()) {
    return absl::AlreadyExistsError(
        absl::StrCat(file, " is a depot already; choose another name, or use it as it is"));
  }
  options.create = true;
  const auto made = service::OpenDepot(options);
  return made.ok() ? absl::OkStatus() : CannotReach(made.status());
}

}  // namespace ferrule::cli
