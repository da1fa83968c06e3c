// Measures Ferrule against floors taken in the same run and prints one JSON.
#include <unistd.h>

#include <cstdio>
#include <cstdlib>
#include <filesystem>
#include <string>
#include <utility>
#include <vector>

#include "tests/bench/benches.h"
#include "tests/bench/measure.h"
#include "tests/bench/process.h"

namespace ferrule::bench {
namespace {

using Bench = void (*)(const Options&, Report*);

// In the order in which they run: a floor comes before what is held against it.
const std::vector<std::pair<std::string, Bench>>& Benches() {
  static const auto* benches = new std::vector<std::pair<std::string, Bench>>{
      {"echo", Echo},
      {"record", RecordOnSqlite},
      {"record-postgres", RecordOnPostgres},
      {"half-load", RecordAtHalfLoad},
      {"feed", Feed},
      {"ledger", LedgerAlone},
      {"growth", Growth},
      {"get-unit", GetUnit},
      {"get-unit-by-token", GetUnitByToken},
      {"due", DueReport},
      {"rebuild", Rebuild},
      {"import", ImportRows},
      {"cold", ColdCall},
      {"days", DayLedgers},
      {"promise", Promise},
      {"promise-calibration", PromiseCalibration},
      {"promise-race", PromiseRace},
      {"recall-drill", RecallDrill},
  };
  return *benches;
}

[[noreturn]] void Usage(const std::string& wrong) {
  std::fprintf(stderr,
               "ferrule_bench: %s\n"
               "ferrule_bench [--units N] [--facts N] [--seconds S] [--repeats N]\n"
               "              [--growth N] [--shape NAME] [--ids timed|foreign]\n"
               "              [--folder DIR] [--postgres CONNINFO] [BENCH...]\n"
               "benches, all when none is named:",
               wrong.c_str());
  for (const auto& [name, bench] : Benches()) std::fprintf(stderr, " %s", name.c_str());
  std::fprintf(stderr, "\n");
  std::exit(2);
}

double Number(const std::string& option, const std::string& text) {
  char* end = nullptr;
  const double value = std::strtod(text.c_str(), &end);
  if (text.empty() || *end != '\0' || value <= 0) {
    Usage(option + " wants a number above 0, not '" + text + "'");
  }
  return value;
}

std::vector<Bench> Parse(const std::vector<std::string>& arguments, Options* options) {
  std::vector<std::string> names;
  for (size_t i = 0; i < arguments.size(); ++i) {
    const std::string& word = arguments[i];
    if (word.rfind("--", 0) != 0) {
      names.push_back(word);
      continue;
    }
    if (i + 1 == arguments.size()) Usage(word + " wants a value");
    const std::string& value = arguments[++i];
    if (word == "--units") {
      options->units = static_cast<int>(Number(word, value));
    } else if (word == "--facts") {
      options->facts = static_cast<int64_t>(Number(word, value));
    } else if (word == "--seconds") {
      options->seconds = Number(word, value);
    } else if (word == "--repeats") {
      options->repeats = static_cast<int>(Number(word, value));
    } else if (word == "--growth") {
      options->growth = static_cast<int64_t>(Number(word, value));
    } else if (word == "--shape") {
      options->shape = value;
    } else if (word == "--ids") {
      if (value != "timed" && value != "foreign") Usage("--ids wants timed or foreign");
      options->ids = value == "foreign" ? Ids::kForeign : Ids::kTimed;
    } else if (word == "--folder") {
      options->folder = value;
    } else if (word == "--postgres") {
      options->postgres = value;
    } else {
      Usage(word + " is not known");
    }
  }
  std::vector<Bench> chosen;
  for (const auto& [name, bench] : Benches()) {
    bool wanted = names.empty();
    for (const std::string& one : names) wanted = wanted || one == name;
    if (wanted) chosen.push_back(bench);
  }
  if (!names.empty() && chosen.size() != names.size()) Usage("one of these benches is not known");
  return chosen;
}

int Run(const std::vector<std::string>& arguments) {
  Options options;
  const std::vector<Bench> benches = Parse(arguments, &options);
  std::string made;
  if (options.folder.empty()) {
    std::string pattern =
        (std::filesystem::temp_directory_path() / "ferrule-bench-XXXXXX").string();
    if (mkdtemp(pattern.data()) == nullptr) GiveUp("no scratch folder");
    options.folder = made = pattern;
  }
  Report report;
  report.Put("run", "units", options.units);
  report.Put("run", "facts", options.facts);
  report.Put("run", "seconds", options.seconds);
  report.Put("run", "repeats", options.repeats);
  report.Put("run", "cores", sysconf(_SC_NPROCESSORS_ONLN));
  for (const Bench bench : benches) bench(options, &report);
  std::printf("%s\n", report.Text().c_str());
  if (!made.empty()) std::filesystem::remove_all(made);
  return 0;
}

}  // namespace
}  // namespace ferrule::bench

int main(int argc, char** argv) {
  const std::vector<std::string> arguments(argv + 1, argv + argc);
  if (arguments.size() == 2 && arguments[0] == "--echo-server") {
    return ferrule::bench::EchoServe(std::atoi(arguments[1].c_str()));
  }
  return ferrule::bench::Run(arguments);
}
