#include "service/depot_host.h"

#include <algorithm>
#include <utility>

#include "core/ledger/whole.h"
#include "core/store/migrate.h"
#include "core/store/open.h"
#include "service/access_methods.h"
#include "service/bench_methods.h"
#include "service/clock_check.h"
#include "service/cover_methods.h"
#include "service/depot_methods.h"
#include "service/intake_methods.h"
#include "service/label_methods.h"
#include "service/ledger_methods.h"
#include "service/papers_methods.h"
#include "service/plan_methods.h"
#include "service/promise_methods.h"
#include "service/socket_path.h"
#include "service/status.h"
#include "service/stock_methods.h"
#include "service/trace_methods.h"
#include "service/version.h"
#include "service/words.h"

namespace ferrule::service {
namespace {

// A database that another process serves too is asked over a connection, one call at a time.
constexpr int kPostgresWorkers = 8;

absl::Status MakeTables(store::Database& database) {
  auto writer = database.OpenWriter();
  if (!writer.ok()) return writer.status();
  const absl::StatusOr<int> version = store::SchemaVersion(**writer);
  if (!version.ok()) return version.status();
  return *version == 0 ? store::Migrate(**writer) : absl::OkStatus();
}

absl::StatusOr<std::unique_ptr<store::Database>> OpenEngine(const HostOptions& options) {
  if (options.sqlite_path.empty() == options.postgres.empty()) {
    return absl::InvalidArgumentError("give either a depot file or a database");
  }
  if (!options.postgres.empty()) return store::OpenPostgres(options.postgres);
  store::SqliteOptions sqlite;
  sqlite.path = options.sqlite_path;
  sqlite.create = options.create;
  sqlite.lock_wait = options.lock_wait;
  return store::OpenSqlite(sqlite);
}

}  // namespace

absl::StatusOr<std::unique_ptr<store::Database>> OpenStore(const HostOptions& options) {
  auto database = OpenEngine(options);
  if (!database.ok() || !options.create) return database;
  if (absl::Status made = MakeTables(**database); !made.ok()) return made;
  return database;
}

absl::StatusOr<std::unique_ptr<DepotHost>> OpenDepot(HostOptions options) {
  auto database = OpenStore(options);
  if (!database.ok()) return database.status();
  const bool exclusive = (*database)->exclusive();
  const int workers = exclusive ? options.workers : std::max(options.workers, kPostgresWorkers);
  ledger::Options ledger_options;
  // A look-up on a lane never waits for reports: there is a connection for each of both.
  ledger_options.readers = options.lanes + workers;
  ledger_options.label = options.label;
  ledger_options.on_commit_unknown = options.on_commit_unknown;
  ledger_options.on_checkpoint_failed = options.on_checkpoint_failed;
  ledger_options.on_replaced = options.on_replaced;
  ledger_options.around_answers = [](absl::FunctionRef<void()> answer) {
    const Lane::Bundle one_waking_for_all;
    answer();
  };
  std::unique_ptr<DepotHost> host(new DepotHost());
  if (!options.metrics_listen.empty()) {
    host->metrics_ = std::make_unique<Metrics>();
  }
  absl::StatusOr<std::string> epoch = ledger::StoredEpoch(**database);
  if (!epoch.ok()) return epoch.status();
  host->epoch_ = *std::move(epoch);
  auto ledger = ledger::Ledger::Open(*std::move(database), options.clock, ledger_options);
  if (!ledger.ok()) return ledger.status();
  host->ledger_ = *std::move(ledger);
  ledger::Ledger* records = host->ledger_.get();
  if (options.check_clock && records->head().sequence != 0 && records->label().empty()) {
    const absl::Status clock = CheckClock(options.clock->NowMicros(), records->head().recorded_us);
    if (!clock.ok()) return clock;
  }
  ServerOptions server;
  server.listen = options.listen;
  server.socket_path = host->socket_path_ = options.socket_path;
  if (options.socket && options.socket_path.empty()) {
    absl::StatusOr<std::string> path = SocketPathFor(options.sqlite_path);
    if (!path.ok()) return path.status();
    server.socket_path = host->socket_path_ = *std::move(path);
  }
  server.lanes = options.lanes;
  server.workers = workers;
  server.clock = options.clock;
  server.log = options.log;
  server.metrics = host->metrics_.get();
  server.to_grpc = [records](const absl::Status& status) {
    return ToGrpc(status, [records](v1::Finding* finding) { PutIntoWords(*records, finding); });
  };
  server.slow_reader = options.slow_reader;
  server.tls = options.tls;
  server.plaintext = options.plaintext;
  GateOptions gate;
  // Whoever can be reached by others has to be told who they are.
  gate.required = options.require_identity || !options.tls.client_ca.empty() ||
                  !std::all_of(options.listen.begin(), options.listen.end(), IsLoopback);
  gate.log = options.log;
  host->gate_ = std::make_unique<Gate>(records, std::move(gate));
  server.gate = host->gate_.get();
  host->room_ = std::make_unique<Room>(records, options.sqlite_path, options.disk_floor_bytes,
                                       options.long_log_bytes, options.log);
  host->room_->Look();
  server.can_write = [room = host->room_.get()] { return room->can_write(); };
  server.each_second = [room = host->room_.get(), at = host->gate_.get()] {
    room->Look();
    at->Refresh();
  };
  const bool listening = !server.listen.empty() || !server.socket_path.empty();
  // In process one command makes one call after the other.
  if (!listening) server.accepted_ahead = 1;
  std::vector<std::vector<Method>> services;
  services.push_back(LedgerMethods(records, options.progress));
  services.push_back(DepotMethods(records));
  services.push_back(PromiseMethods(records));
  services.push_back(PapersMethods(records));
  services.push_back(StockMethods(records));
  services.push_back(TraceMethods(records));
  services.push_back(BenchMethods(records));
  services.push_back(CoverMethods(records));
  host->intake_ = std::make_shared<intake::Intake>(records);
  services.push_back(IntakeMethods(host->intake_));
  services.push_back(PlanMethods(records));
  services.push_back(LabelMethods(records));
  services.push_back(AccessMethods(host->gate_.get(), records));
  services.push_back(PatientMethods(host->gate_.get(), records));
  auto started = Server::Start(std::move(services), std::move(server));
  if (!started.ok()) return started.status();
  host->server_ = *std::move(started);
  if (!options.hl7_listen.empty()) {
    MllpOptions mllp;
    mllp.listen = options.hl7_listen;
    mllp.log = options.log ? options.log : [](const std::string&) {};
    auto listener = MllpListener::Start(host->intake_.get(), std::move(mllp));
    if (!listener.ok()) return listener.status();
    host->mllp_ = *std::move(listener);
  }
  if (host->metrics_ == nullptr) return host;
  auto listener = MetricsListener::Start(
      options.metrics_listen,
      [metrics = host->metrics_.get(), records, file = options.sqlite_path, mark = host->epoch_] {
        return metrics->Text({kVersion, records->engine(), records->head(), file, mark});
      });
  if (!listener.ok()) return listener.status();
  host->metrics_listener_ = *std::move(listener);
  return host;
}

DepotHost::~DepotHost() {
  metrics_listener_.reset();
  mllp_.reset();
  server_.reset();  // before the ledger, which its methods use
}

std::shared_ptr<grpc::Channel> DepotHost::InProcess(const grpc::ChannelArguments& arguments) {
  return server_->InProcessChannel(arguments);
}

void DepotHost::Shutdown(absl::Duration grace) {
  mllp_.reset();
  server_->Shutdown(grace);
}

}  // namespace ferrule::service
