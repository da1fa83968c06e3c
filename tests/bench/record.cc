// Entries recorded by a server, one caller or many, each entry durable before it is answered.
#include <algorithm>
#include <functional>
#include <memory>
#include <string>
#include <vector>

#include "core/store/open.h"
#include "ferrule/v1/ledger_service.grpc.pb.h"
#include "tests/bench/benches.h"
#include "tests/bench/depots.h"
#include "tests/bench/load.h"
#include "tests/bench/process.h"
#include "tests/bench/rows_floor.h"

namespace ferrule::bench {
namespace {

std::unique_ptr<store::Database> OpenFile(const std::string& path) {
  store::SqliteOptions options;
  options.path = path;
  return Must(store::OpenSqlite(options));
}

// A small depot on a file: what both engines' floors are made from.
std::string SmallFile(const Options& options) {
  const std::string path = FreshFile(options, "small");
  ReceiveUnits(OpenFile(path), options.units);
  return path;
}

using RowsFloor = double (*)(const Options&, const std::string&, EntryKind, int);
// The words by which ferruled finds a depot as small as the floor's.
using FreshStore = std::function<std::vector<std::string>()>;

// Of a server that has just been started on a fresh depot, as the floor begins with one: the more
// the units have been moved, the more pages a move touches, of the bare rows, too.
LoadResult RecordOnFresh(const Options& options, const std::string& engine,
                         const std::vector<std::string>& store, int callers, Report* report) {
  const std::string address = "127.0.0.1:" + std::to_string(FreePort());
  std::vector<std::string> command = {FERRULED_BIN, "serve", "--listen", address};
  command.insert(command.end(), store.begin(), store.end());
  const Server server(command);
  auto stub = v1::LedgerService::NewStub(Connect(address));
  const LoadResult load = RunLoad<v1::RecordResponse>(
      callers, options.seconds, server,
      [&](int64_t, grpc::ClientContext* context, grpc::CompletionQueue* queue) {
        v1::RecordRequest request;
        *request.mutable_entry() = NextMove(options.units);
        return stub->AsyncRecord(context, request, queue);
      });
  report->Put("record_" + engine + "_memory_mib", "server", server.MemoryMiB());
  return load;
}

void Record(const Options& options, const std::string& engine, const FreshStore& fresh,
            const std::string& floor_file, RowsFloor floor, Report* report) {
  const std::string section = "record_" + engine + "_entries_per_s";
  const std::string rows_section = "rows_" + engine + "_entries_per_s";
  for (const int callers : {1, 8, 64}) {
    const double cpu_s = OwnCpuSeconds();
    const double rate = floor(options, floor_file, {Said::kMoved}, callers);
    const double entries = rate * options.seconds * options.repeats;
    report->Put(rows_section, std::to_string(callers), rate);
    report->Put("rows_" + engine + "_cpu_us_per_entry", std::to_string(callers) + "_client",
                (OwnCpuSeconds() - cpu_s) * 1e6 / entries);
  }
  for (const int callers : {1, 8, 64}) {
    const std::string name = std::to_string(callers);
    const LoadResult load = MedianOfLoads(
        options, [&] { return RecordOnFresh(options, engine, fresh(), callers, report); });
    const double rows = report->Get(rows_section, name);
    const double echo = report->Get("echo_calls_per_s", name);
    report->PutAgainst(section, name, load.calls_per_s, echo < rows ? "echo" : "rows",
                       std::min(rows, echo), true);
    report->Put("record_" + engine + "_p50_ms", name, load.p50_ms);
    report->Put("record_" + engine + "_p99_ms", name, load.p99_ms);
    PutCpu("record_" + engine, callers, load, report);
  }
  report->PutAgainst(section, "64_against_one_commit_an_entry", report->Get(section, "64"),
                     "rows, a transaction an entry", report->Get(rows_section, "1"), true);
}

}  // namespace

void RecordOnSqlite(const Options& options, Report* report) {
  if (!report->Has("echo_calls_per_s", "64")) Echo(options, report);
  const std::string file = SmallFile(options);
  const auto fresh = [&]() -> std::vector<std::string> {
    const std::string served = FreshFile(options, "served");
    ReceiveUnits(OpenFile(served), options.units);
    return {"--depot", served};
  };
  Record(options, "sqlite", fresh, file, SqliteRowsPerSecond, report);
}

void RecordOnPostgres(const Options& options, Report* report) {
  if (options.postgres.empty()) {
    report->Put("record_postgres_entries_per_s", "left_out", "no --postgres was given");
    return;
  }
  if (!report->Has("echo_calls_per_s", "64")) Echo(options, report);
  const std::string file = SmallFile(options);
  const auto fresh = [&]() -> std::vector<std::string> {
    const std::string conninfo = FreshSchema(options, "bench_served");
    ReceiveUnits(Must(store::OpenPostgres(conninfo)), options.units);
    return {"--postgres", conninfo};
  };
  Record(options, "postgres", fresh, file, PostgresRowsPerSecond, report);
}

}  // namespace ferrule::bench
