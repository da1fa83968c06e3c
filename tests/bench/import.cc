// A file of meter readings taken in by a server through the command line, against the rows alone
// written in groups of 64.
#include <sys/wait.h>

#include <chrono>
#include <cstdlib>
#include <fstream>
#include <string>

#include "absl/time/time.h"
#include "core/store/open.h"
#include "tests/bench/benches.h"
#include "tests/bench/depots.h"
#include "tests/bench/load.h"
#include "tests/bench/process.h"
#include "tests/bench/rows_floor.h"
#include "tests/support/entries.h"

namespace ferrule::bench {
namespace {

constexpr int kRowsAUnit = 50;

std::unique_ptr<store::Database> OpenFile(const std::string& path) {
  store::SqliteOptions options;
  options.path = path;
  return Must(store::OpenSqlite(options));
}

// Readings of every unit, an hour apart and half an hour up; returns how many.
int64_t WriteReadings(const std::string& path, int units) {
  std::ofstream file(path, std::ios::binary);
  file << "unit,time,meter_h\r\n";
  for (int k = 1; k <= kRowsAUnit; ++k) {
    const std::string time = absl::FormatTime(
        "%Y-%m-%dT%H:%M:%SZ", absl::FromUnixMicros(testing::kStartUs + k * testing::kHourUs),
        absl::UTCTimeZone());
    for (int i = 0; i < units; ++i) {
      file << UnitTag(i, units) << ',' << time << ',' << k * 0.5 << "\r\n";
    }
  }
  return int64_t{kRowsAUnit} * units;
}

}  // namespace

void ImportRows(const Options& options, Report* report) {
  const std::string small = FreshFile(options, "small");
  ReceiveUnits(OpenFile(small), options.units);
  report->Put("rows_of_readings_per_s", "64",
              // Entries that come of a file have digests for ids.
              SqliteRowsPerSecond(options, small, {Said::kMeterRead, Ids::kForeign}, 64));
  const std::string served = FreshFile(options, "imported");
  ReceiveUnits(OpenFile(served), options.units);
  const std::string readings = served + ".readings.csv";
  const int64_t rows = WriteReadings(readings, options.units);
  const std::string address = "127.0.0.1:" + std::to_string(FreePort());
  const Server server({FERRULED_BIN, "serve", "--listen", address, "--depot", served});
  const std::string command = std::string(FERRULE_BIN) + " import '" + readings +
                              "' --kind readings --server " + address + " --as bench > /dev/null";
  Connect(address);  // the server is there
  const auto start = std::chrono::steady_clock::now();
  const int done = std::system(command.c_str());
  const std::chrono::duration<double> took = std::chrono::steady_clock::now() - start;
  if (!WIFEXITED(done) || WEXITSTATUS(done) != 0) GiveUp("the import failed");
  report->Put("import_rows", "count", static_cast<double>(rows));
  report->PutAgainst("import_rows_per_s", "readings", static_cast<double>(rows) / took.count(),
                     "rows", report->Get("rows_of_readings_per_s", "64"), true);
}

}  // namespace ferrule::bench
