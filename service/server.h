// A gRPC server over tables of methods: completion queues, addresses, health, reflection, drain.
#pragma once

#include <atomic>
#include <functional>
#include <memory>
#include <string>
#include <string_view>
#include <vector>

#include "absl/status/status.h"
#include "absl/status/statusor.h"
#include "absl/time/time.h"
#include "core/time/clock.h"
#include "grpcpp/channel.h"
#include "grpcpp/server.h"
#include "service/call.h"
#include "service/tls.h"

namespace ferrule::service {

struct ServerOptions {
  // TCP addresses, "127.0.0.1:7443"; port 0 takes a free one. Others than loopback need TLS.
  std::vector<std::string> listen;
  TlsFiles tls;
  // Listens in plain text on every address: a proxy before it speaks TLS.
  bool plaintext = false;
  // Stands before every method and must outlive the server; null lets everybody do everything.
  Gate* gate = nullptr;
  // After which a stream that nobody reads is ended.
  absl::Duration slow_reader = kSlowReader;
  // A Unix socket, for its owner alone; empty for none.
  std::string socket_path;
  // Completion queues, each with one thread.
  int lanes = 2;
  // Threads for reports; 0 runs them on the lanes.
  int workers = 2;
  // Calls of each method accepted ahead, a lane.
  int accepted_ahead = kAcceptedAhead;
  // Must outlive the server.
  const time::Clock* clock = nullptr;
  std::function<grpc::Status(const absl::Status&)> to_grpc;
  // Whether what the server serves can be written to; null when there is nothing to write.
  std::function<bool()> can_write;
  // Called on a worker about once a second, never twice at once; null for nothing.
  std::function<void()> each_second;
  // Takes incidents; standard error when not given.
  std::function<void(const std::string&)> log;
  Metrics* metrics = nullptr;  // counts calls when given; must outlive the server
};

// Whether a listen address reaches this machine alone.
bool IsLoopback(std::string_view address);

class Server {
 public:
  // InvalidArgument: an address that is not well formed, or not loopback without TLS; TLS files
  // that cannot be used. Unavailable: an address
  // is taken or not to be had. The sentence names it.
  static absl::StatusOr<std::unique_ptr<Server>> Start(std::vector<std::vector<Method>> services,
                                                       ServerOptions options);
  // Shuts down without grace when Shutdown was not called.
  ~Server();

  // A channel to this server without a socket. No call may be begun on it once Shutdown was called:
  // gRPC 1.51 crashes then.
  std::shared_ptr<grpc::Channel> InProcessChannel(
      const grpc::ChannelArguments& arguments = grpc::ChannelArguments());
  // The ports that were taken, in the order of ServerOptions::listen.
  const std::vector<int>& ports() const { return ports_; }
  WorkerPool& pool() { return pool_; }

  // Says NOT_SERVING, ends the feeds, lets calls in flight finish for as long as `grace`, then
  // cancels the rest. Returns when no call is left.
  void Shutdown(absl::Duration grace);

 private:
  explicit Server(ServerOptions options);
  absl::Status Build(std::vector<std::vector<Method>> services);
  absl::Status AddAddresses(grpc::ServerBuilder* builder);
  void StartLanes();
  void EachSecond();

  const ServerOptions options_;
  WorkerPool pool_;
  CallShared shared_;
  std::vector<std::unique_ptr<Lane>> lanes_;
  std::vector<std::unique_ptr<MethodTable>> tables_;
  std::vector<std::vector<std::unique_ptr<CallSlots>>> slots_;  // by lane
  std::vector<int> ports_;
  std::atomic<bool> looking_{false};  // each_second runs
  std::unique_ptr<grpc::Server> server_;
  bool shut_down_ = false;
};

}  // namespace ferrule::service
