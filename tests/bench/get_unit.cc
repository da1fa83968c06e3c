// One unit's state, asked of a server by one caller or many.
#include <string>

#include "core/store/open.h"
#include "ferrule/v1/depot_service.grpc.pb.h"
#include "tests/bench/benches.h"
#include "tests/bench/depots.h"
#include "tests/bench/load.h"
#include "tests/bench/process.h"

namespace ferrule::bench {

void GetUnit(const Options& options, Report* report) {
  if (!report->Has("echo_calls_per_s", "64")) Echo(options, report);
  const std::string file = FreshFile(options, "read");
  {
    store::SqliteOptions store;
    store.path = file;
    ReceiveUnits(Must(store::OpenSqlite(store)), options.units);
  }
  const std::string address = "127.0.0.1:" + std::to_string(FreePort());
  const Server server({FERRULED_BIN, "serve", "--listen", address, "--depot", file});
  auto stub = v1::DepotService::NewStub(Connect(address));
  for (const int callers : {1, 8, 64}) {
    const std::string name = std::to_string(callers);
    const LoadResult load = MedianLoad<v1::GetUnitResponse>(
        options, callers, server,
        [&](int64_t n, grpc::ClientContext* context, grpc::CompletionQueue* queue) {
          v1::GetUnitRequest request;
          request.set_name("units/" + UnitTag(n * 7919, options.units));
          return stub->AsyncGetUnit(context, request, queue);
        });
    report->PutAgainst("get_unit_calls_per_s", name, load.calls_per_s, "echo",
                       report->Get("echo_calls_per_s", name), true);
    PutCpu("get_unit", callers, load, report);
  }
}

}  // namespace ferrule::bench
