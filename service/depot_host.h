// A depot with its server: opened, served, drained. ferruled serves one to others; the command line
// opens one for itself and talks to it in process.
#pragma once

#include <chrono>
#include <functional>
#include <memory>
#include <string>
#include <vector>

#include "absl/status/statusor.h"
#include "absl/time/time.h"
#include "core/ledger/ledger.h"
#include "core/time/clock.h"
#include "grpcpp/channel.h"
#include "service/limits.h"
#include "service/metrics.h"
#include "service/metrics_listener.h"
#include "service/mllp_listener.h"
#include "service/room.h"
#include "service/server.h"

namespace ferrule::service {

struct HostOptions {
  // One of the two.
  std::string sqlite_path;
  std::string postgres;  // libpq connection string
  // Makes the file, or the tables in an empty database, when there are none.
  bool create = false;
  // How long to wait for another process that owns the file.
  std::chrono::milliseconds lock_wait{2000};

  std::vector<std::string> listen;  // TCP addresses; empty for none
  std::string hl7_listen;           // TCP address for HL7 v2 over MLLP; empty for none
  std::string metrics_listen;       // TCP address for figures over HTTP; empty for none
  bool socket = false;              // also on the file's own socket (socket_path.h)
  std::string socket_path;          // a socket for the owner elsewhere, a database's for instance
  TlsFiles tls;
  bool plaintext = false;         // other machines may connect without TLS: a proxy speaks it
  bool require_identity = false;  // callers say who they are, even when no token was ever issued
  int64_t disk_floor_bytes = kDiskFloorBytes;  // less room than this is an alarm
  int64_t long_log_bytes = kLongLogBytes;      // a longer log of the file is told
  // Must outlive the host.
  const time::Clock* clock = nullptr;
  // Refuse a clock that the last entry contradicts (clock_check.h); a synthetic depot has no say.
  bool check_clock = false;
  std::string label;  // put on an empty ledger, for instance "synthetic"

  // Threads: completion queues, and workers for reports (0: on the queues' threads).
  int lanes = 1;
  int workers = 2;
  // How often an idle feed says how far it is.
  absl::Duration progress = kProgressInterval;
  absl::Duration slow_reader = kSlowReader;  // after which a feed that nobody reads is ended
  // Takes one line for the operator; standard error when not given.
  std::function<void(const std::string&)> log;
  // See ledger::Options; ferruled ends the process.
  std::function<void(const absl::Status&)> on_commit_unknown;
  std::function<void(const absl::Status&)> on_checkpoint_failed;
  std::function<void(const absl::Status&)> on_replaced;
};

class DepotHost {
 public:
  ~DepotHost();

  // A channel without a socket; no call may be begun on it once the host was shut down.
  std::shared_ptr<grpc::Channel> InProcess(
      const grpc::ChannelArguments& arguments = grpc::ChannelArguments());
  // The TCP ports, in the order of HostOptions::listen.
  const std::vector<int>& ports() const { return server_->ports(); }
  const std::string& socket_path() const { return socket_path_; }
  ledger::Ledger& ledger() { return *ledger_; }
  // core/ledger/whole.h, StoredEpoch.
  const std::string& epoch() const { return epoch_; }
  // The port for HL7 messages, 0 for none.
  int hl7_port() const { return mllp_ == nullptr ? 0 : mllp_->port(); }
  // The port for figures, 0 for none.
  int metrics_port() const { return metrics_listener_ == nullptr ? 0 : metrics_listener_->port(); }

  // Ends the server: new calls are refused, calls in flight finish within the grace.
  void Shutdown(absl::Duration grace = kDrainGrace);

 private:
  friend absl::StatusOr<std::unique_ptr<DepotHost>> OpenDepot(HostOptions options);
  DepotHost() = default;

  std::string socket_path_;
  std::string epoch_;
  std::unique_ptr<Metrics> metrics_;  // before those who count
  std::unique_ptr<ledger::Ledger> ledger_;
  std::shared_ptr<intake::Intake> intake_;
  std::unique_ptr<Gate> gate_;
  std::unique_ptr<Room> room_;
  std::unique_ptr<Server> server_;
  std::unique_ptr<MllpListener> mllp_;
  std::unique_ptr<MetricsListener> metrics_listener_;
};

// Opens a depot and starts its server. NotFound: no such file. Unavailable: owned by another
// process, which is named, or an address is taken. FailedPrecondition: no depot, or of another
// schema. InvalidArgument: the options do not fit together.
absl::StatusOr<std::unique_ptr<DepotHost>> OpenDepot(HostOptions options);

// Opens the store alone; with `create`, makes file and tables when there are none.
absl::StatusOr<std::unique_ptr<store::Database>> OpenStore(const HostOptions& options);

}  // namespace ferrule::service
