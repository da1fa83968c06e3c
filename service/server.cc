#include "service/server.h"

#include <sys/stat.h>

#include <cstdio>
#include <utility>

#include "absl/strings/match.h"
#include "absl/strings/numbers.h"
#include "absl/strings/str_cat.h"
#include "absl/strings/str_split.h"
#include "grpcpp/security/server_credentials.h"
#include "grpcpp/server_builder.h"
#include "service/health_methods.h"
#include "service/reflection_methods.h"

namespace ferrule::service {
namespace {

struct HostPort {
  std::string host;
  int port = -1;
};

// "127.0.0.1:7443" or "[::1]:7443"; port -1 when it is neither.
HostPort Split(std::string_view address) {
  HostPort out;
  const size_t colon = address.rfind(':');
  if (colon == std::string_view::npos) return out;
  out.host = std::string(address.substr(0, colon));
  int port = 0;
  if (absl::SimpleAtoi(std::string(address.substr(colon + 1)), &port) && port >= 0 &&
      port <= 65535) {
    out.port = port;
  }
  return out;
}

bool IsLoopbackHost(const std::string& host) {
  if (host == "localhost" || host == "[::1]") return true;
  const std::vector<std::string> parts = absl::StrSplit(host, '.');
  if (parts.size() != 4 || parts[0] != "127") return false;
  for (const std::string& part : parts) {
    int n = -1;
    if (!absl::SimpleAtoi(part, &n) || n < 0 || n > 255) return false;
  }
  return true;
}

void Tune(grpc::ServerBuilder* builder) {
  builder->SetMaxReceiveMessageSize(kMaxMessageBytes);
  builder->SetMaxSendMessageSize(kMaxMessageBytes);
  // Two servers on one port would share its callers by chance.
  builder->AddChannelArgument(GRPC_ARG_ALLOW_REUSEPORT, 0);
  builder->AddChannelArgument(GRPC_ARG_MAX_METADATA_SIZE, kMaxMetadataBytes);
  builder->AddChannelArgument(GRPC_ARG_MAX_CONCURRENT_STREAMS, kMaxStreamsPerConnection);
  const auto set = [builder](const char* name, absl::Duration duration) {
    builder->AddChannelArgument(name, static_cast<int>(absl::ToInt64Milliseconds(duration)));
  };
  set(GRPC_ARG_KEEPALIVE_TIME_MS, kKeepaliveTime);
  set(GRPC_ARG_KEEPALIVE_TIMEOUT_MS, kKeepaliveTimeout);
  set(GRPC_ARG_HTTP2_MIN_RECV_PING_INTERVAL_WITHOUT_DATA_MS, kLeastPingInterval);
  set(GRPC_ARG_MAX_CONNECTION_IDLE_MS, kMaxConnectionIdle);
  set(GRPC_ARG_MAX_CONNECTION_AGE_MS, kMaxConnectionAge);
  set(GRPC_ARG_MAX_CONNECTION_AGE_GRACE_MS, kConnectionGrace);
}

// "ferrule.v1.DepotService" of "/ferrule.v1.DepotService/GetUnit".
std::vector<std::string> NamesOf(const std::vector<std::vector<Method>>& services) {
  std::vector<std::string> names;
  for (const std::vector<Method>& methods : services) {
    const std::string& path = methods.front().path;
    names.push_back(path.substr(1, path.rfind('/') - 1));
  }
  return names;
}

// What a server offers besides its own services. They are methods like all others: the library's
// own would each bring threads that compete with the lanes for every event.
void AddHealthAndReflection(const std::function<bool()>& can_write,
                            std::vector<std::vector<Method>>* services) {
  std::vector<std::string> names = NamesOf(*services);
  services->push_back(HealthMethods(names, can_write));
  names = NamesOf(*services);
  names.emplace_back("grpc.reflection.v1alpha.ServerReflection");
  services->push_back(ReflectionMethods(std::move(names)));
}

}  // namespace

bool IsLoopback(std::string_view address) { return IsLoopbackHost(Split(address).host); }

absl::StatusOr<std::unique_ptr<Server>> Server::Start(std::vector<std::vector<Method>> services,
                                                      ServerOptions options) {
  if (!options.log) {
    options.log = [](const std::string& line) {
      std::fprintf(stderr, "ferruled: %s\n", line.c_str());
    };
  }
  std::unique_ptr<Server> server(new Server(std::move(options)));
  if (absl::Status built = server->Build(std::move(services)); !built.ok()) return built;
  server->StartLanes();
  return server;
}

Server::Server(ServerOptions options)
    : options_(std::move(options)), pool_(options_.workers, kMaxQueuedReports) {
  shared_.clock = options_.clock;
  shared_.to_grpc = options_.to_grpc;
  shared_.log = options_.log;
  shared_.pool = &pool_;
  shared_.gate = options_.gate;
  shared_.slow_reader = options_.slow_reader;
  shared_.metrics = options_.metrics;
}

Server::~Server() { Shutdown(absl::ZeroDuration()); }

absl::Status Server::AddAddresses(grpc::ServerBuilder* builder) {
  std::shared_ptr<grpc::ServerCredentials> credentials = grpc::InsecureServerCredentials();
  if (!options_.tls.empty()) {
    auto tls = ServerCredentialsOf(options_.tls);
    if (!tls.ok()) return tls.status();
    credentials = *std::move(tls);
  }
  ports_.assign(options_.listen.size(), 0);
  for (size_t i = 0; i < options_.listen.size(); ++i) {
    const std::string& address = options_.listen[i];
    const HostPort parts = Split(address);
    if (parts.port < 0) {
      return absl::InvalidArgumentError(absl::StrCat(
          "cannot listen on \"", address, "\": give host and port, for instance 127.0.0.1:7443"));
    }
    if (!IsLoopbackHost(parts.host) && options_.tls.empty() && !options_.plaintext) {
      return absl::InvalidArgumentError(
          absl::StrCat("will not listen on ", address,
                       ": without TLS only this machine may connect; give --tls-certificate and "
                       "--tls-key, listen on 127.0.0.1:",
                       parts.port,
                       " with a TLS proxy before it, or say --plaintext if the network between "
                       "them is trusted"));
    }
    builder->AddListeningPort(address, credentials, &ports_[i]);
  }
  if (!options_.socket_path.empty()) {
    builder->AddListeningPort(absl::StrCat("unix:", options_.socket_path),
                              grpc::InsecureServerCredentials());
  }
  return absl::OkStatus();
}

absl::Status Server::Build(std::vector<std::vector<Method>> services) {
  const bool listening = !options_.listen.empty() || !options_.socket_path.empty();
  if (listening) AddHealthAndReflection(options_.can_write, &services);
  grpc::ServerBuilder builder;
  Tune(&builder);
  if (absl::Status added = AddAddresses(&builder); !added.ok()) return added;
  for (auto& methods : services) {
    tables_.push_back(std::make_unique<MethodTable>(std::move(methods)));
    builder.RegisterService(tables_.back().get());
  }
  for (int i = 0; i < options_.lanes; ++i) {
    lanes_.push_back(std::make_unique<Lane>(builder.AddCompletionQueue()));
  }
  // The socket is for its owner: no moment in which others could connect.
  const mode_t before = options_.socket_path.empty() ? 0 : umask(0177);
  server_ = builder.BuildAndStart();
  if (!options_.socket_path.empty()) umask(before);
  if (server_ != nullptr) return absl::OkStatus();
  std::string where;
  for (const std::string& address : options_.listen) absl::StrAppend(&where, " ", address);
  if (!options_.socket_path.empty()) absl::StrAppend(&where, " ", options_.socket_path);
  return absl::UnavailableError(
      absl::StrCat("cannot listen on", where,
                   ": in use by another program or not to be had; choose another with --listen"));
}

void Server::StartLanes() {
  for (auto& lane : lanes_) {
    auto& slots = slots_.emplace_back();
    for (auto& table : tables_) {
      for (size_t i = 0; i < table->size(); ++i) {
        slots.push_back(std::make_unique<CallSlots>(table.get(), i, lane.get(), &shared_,
                                                    options_.accepted_ahead));
      }
    }
  }
  for (size_t i = 0; i < lanes_.size(); ++i) {
    // Calls are accepted before the thread runs; from then on only the thread touches them.
    for (auto& slots : slots_[i]) slots->Replenish();
    lanes_[i]->Start([this, first = i == 0, mine = &slots_[i]] {
      for (auto& slots : *mine) slots->Tick();
      if (first) EachSecond();
    });
  }
}

// On a worker: looking may have to wait for a store that is away.
void Server::EachSecond() {
  if (!options_.each_second || looking_.exchange(true)) return;
  const bool posted = pool_.Post([this] {
    options_.each_second();
    looking_.store(false);
  });
  if (!posted) looking_.store(false);
}

std::shared_ptr<grpc::Channel> Server::InProcessChannel(const grpc::ChannelArguments& arguments) {
  return server_->InProcessChannel(arguments);
}

void Server::Shutdown(absl::Duration grace) {
  if (shut_down_ || server_ == nullptr) return;
  shut_down_ = true;
  shared_.draining.store(true);
  for (size_t i = 0; i < lanes_.size(); ++i) {
    lanes_[i]->Post([mine = &slots_[i]] {
      for (auto& slots : *mine) slots->Drain();
    });
  }
  server_->Shutdown(absl::ToChronoTime(absl::Now() + grace));
  for (auto& lane : lanes_) lane->End();
}

}  // namespace ferrule::service
