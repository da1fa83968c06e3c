// One question from an empty screen to its answer: programs started, file opened, answer printed.
#include <string>
#include <vector>

#include "SQLiteCpp/SQLiteCpp.h"
#include "tests/bench/benches.h"
#include "tests/bench/depots.h"
#include "tests/bench/process.h"

namespace ferrule::bench {

void ColdCall(const Options& options, Report* report) {
  constexpr int kRuns = 30;
  const std::string file = LargeDepot(options);
  std::string name;
  {
    SQLite::Database database(file, SQLite::OPEN_READWRITE);
    name = database
               .execAndGet(
                   "SELECT name FROM states WHERE kind = 1 AND custody = 1 "
                   "ORDER BY name LIMIT 1 OFFSET 10")
               .getString();
  }
  const std::vector<std::string> ours = {FERRULE_BIN, "--depot", file, "show",
                                         name.substr(name.find('/') + 1)};
  const std::vector<std::string> shell = {
      "sqlite3", file,
      "SELECT name, model, branch, custody, place, hygiene, condition, commitment, partner, "
      "questions, hex(state) FROM states WHERE name = '" +
          name + "'"};
  if (OutputOf(ours).find(name.substr(name.find('/') + 1)) == std::string::npos) {
    GiveUp("ferrule does not answer");
  }
  std::vector<double> ours_ms, shell_ms;
  for (int i = 0; i < kRuns; ++i) {  // in turn, so that both meet the same machine
    ours_ms.push_back(TimeOf(ours) * 1000);
    shell_ms.push_back(TimeOf(shell) * 1000);
  }
  report->PutAgainst("cold_call", "median_ms", Median(ours_ms), "sqlite3 shell", Median(shell_ms),
                     false);
  report->PutAgainst("cold_call", "p90_ms", Percentile(ours_ms, 0.9), "sqlite3 shell",
                     Percentile(shell_ms, 0.9), false);
}

}  // namespace ferrule::bench
