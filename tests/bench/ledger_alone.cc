// Entries decided and committed in process, without a call: what recording costs below the service.
#include <future>
#include <string>
#include <utility>
#include <vector>

#include "core/ledger/ledger.h"
#include "core/store/open.h"
#include "core/time/clock.h"
#include "tests/bench/benches.h"
#include "tests/bench/depots.h"
#include "tests/bench/process.h"
#include "tests/bench/rows_floor.h"

namespace ferrule::bench {
namespace {

constexpr int kGroup = 64;

struct Figures {
  double entries_per_s = 0;
  double cpu_us = 0;  // an entry
};

std::unique_ptr<store::Database> OpenFile(const std::string& path) {
  store::SqliteOptions options;
  options.path = path;
  return Must(store::OpenSqlite(options));
}

std::vector<v1::Entry> NextGroup(int units) {
  std::vector<v1::Entry> group;
  for (int i = 0; i < kGroup; ++i) group.push_back(NextMove(units));
  return group;
}

Figures Run(const Options& options, ledger::Ledger& ledger) {
  int64_t entries = 0;
  const double cpu_s = OwnCpuSeconds();
  const Stopwatch watch;
  while (watch.Seconds() < options.seconds) {
    std::promise<void> done;
    ledger.RecordBatch(NextGroup(options.units), "",
                       [&](std::vector<absl::StatusOr<v1::Receipt>> all) {
                         for (const absl::StatusOr<v1::Receipt>& one : all) Must(one.status());
                         done.set_value();
                       });
    done.get_future().wait();
    entries += kGroup;
  }
  const auto count = static_cast<double>(entries);
  return {count / watch.Seconds(), (OwnCpuSeconds() - cpu_s) * 1e6 / count};
}

}  // namespace

void LedgerAlone(const Options& options, Report* report) {
  const std::string file = FreshFile(options, "alone");
  ReceiveUnits(OpenFile(file), options.units);
  const double cpu_s = OwnCpuSeconds();
  const double floor = SqliteRowsPerSecond(options, file, {Said::kMoved}, kGroup);
  // Nothing else ran in this process meanwhile.
  const double floor_us = (OwnCpuSeconds() - cpu_s) * 1e6 / (floor * options.seconds) /
                          static_cast<double>(options.repeats);
  const time::SystemClock clock;
  auto ledger = Must(ledger::Ledger::Open(OpenFile(file), &clock, {}));
  std::vector<double> cpu;
  const double rate = MedianOf(options, [&] {
    const Figures figures = Run(options, *ledger);
    cpu.push_back(figures.cpu_us);
    return figures.entries_per_s;
  });
  report->PutAgainst("ledger_alone", "entries_per_s", rate, "rows, 64 a group", floor, true);
  report->PutAgainst("ledger_alone", "cpu_us_per_entry", Median(std::move(cpu)), "rows, 64 a group",
                     floor_us, false);
}

}  // namespace ferrule::bench
