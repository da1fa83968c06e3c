// One unit's state, asked of a server by one caller or many, who need not say who they are or who
// do.
#include <chrono>
#include <functional>
#include <string>
#include <vector>

#include "core/store/open.h"
#include "ferrule/v1/access_service.grpc.pb.h"
#include "ferrule/v1/depot_service.grpc.pb.h"
#include "tests/bench/benches.h"
#include "tests/bench/depots.h"
#include "tests/bench/load.h"
#include "tests/bench/process.h"

namespace ferrule::bench {
namespace {

// Calls a second of one caller are limited: so many share the load.
constexpr int kNames = 256;

std::string DepotOfUnits(const Options& options) {
  const std::string file = FreshFile(options, "read");
  store::SqliteOptions store;
  store.path = file;
  ReceiveUnits(Must(store::OpenSqlite(store)), options.units);
  return file;
}

using Sign = std::function<void(int64_t n, grpc::ClientContext* context)>;

void Measure(const Options& options, const std::string& name, const Server& server,
             const std::string& address, const Sign& sign, Report* report) {
  auto stub = v1::DepotService::NewStub(Connect(address));
  for (const int callers : {1, 8, 64}) {
    const std::string count = std::to_string(callers);
    const LoadResult load = MedianLoad<v1::GetUnitResponse>(
        options, callers, server,
        [&](int64_t n, grpc::ClientContext* context, grpc::CompletionQueue* queue) {
          v1::GetUnitRequest request;
          request.set_name("units/" + UnitTag(n * 7919, options.units));
          sign(n, context);
          return stub->AsyncGetUnit(context, request, queue);
        });
    report->PutAgainst(name + "_calls_per_s", count, load.calls_per_s, "echo",
                       report->Get("echo_calls_per_s", count), true);
    PutCpu(name, callers, load, report);
  }
}

// The owner gives every name the technician's role in all branches, and a token.
std::vector<std::string> IssueTokens(const std::string& file) {
  auto owner = v1::AccessService::NewStub(Connect("unix:" + file + ".sock"));
  v1::PutAccessRulesRequest rules;
  rules.mutable_rules()->set_version("bench");
  std::vector<std::string> tokens;
  for (int i = 0; i < kNames; ++i) {
    v1::Grant* grant = rules.mutable_rules()->add_grants();
    grant->set_principal("tech-" + std::to_string(i));
    grant->set_role("technician");
    v1::IssueTokenRequest request;
    request.set_principal(grant->principal());
    request.mutable_expire_time()->set_seconds(
        std::chrono::system_clock::to_time_t(std::chrono::system_clock::now()) + 86'400);
    v1::IssueTokenResponse response;
    grpc::ClientContext context;
    const grpc::Status issued = owner->IssueToken(&context, request, &response);
    if (!issued.ok()) GiveUp("no token: " + issued.error_message());
    tokens.push_back("Bearer " + response.token());
  }
  v1::PutAccessRulesResponse response;
  grpc::ClientContext context;
  const grpc::Status put = owner->PutAccessRules(&context, rules, &response);
  if (!put.ok()) GiveUp("no access rules: " + put.error_message());
  return tokens;
}

}  // namespace

void GetUnit(const Options& options, Report* report) {
  if (!report->Has("echo_calls_per_s", "64")) Echo(options, report);
  const std::string file = DepotOfUnits(options);
  const std::string address = "127.0.0.1:" + std::to_string(FreePort());
  const Server server({FERRULED_BIN, "serve", "--listen", address, "--depot", file});
  Measure(
      options, "get_unit", server, address, [](int64_t, grpc::ClientContext*) {}, report);
}

void GetUnitByToken(const Options& options, Report* report) {
  if (!report->Has("echo_calls_per_s", "64")) Echo(options, report);
  const std::string file = DepotOfUnits(options);
  const std::string address = "127.0.0.1:" + std::to_string(FreePort());
  const Server server({FERRULED_BIN, "serve", "--listen", address, "--depot", file});
  const std::vector<std::string> tokens = IssueTokens(file);
  Measure(
      options, "get_unit_by_token", server, address,
      [&tokens](int64_t n, grpc::ClientContext* context) {
        context->AddMetadata("authorization", tokens[static_cast<size_t>(n % kNames)]);
      },
      report);
}

}  // namespace ferrule::bench
