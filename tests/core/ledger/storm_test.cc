// kill -9 in a write storm, again and again on one file: nothing acknowledged is ever missing,
// nothing is half there, no repeat is doubled.
#include <gtest/gtest.h>
#include <poll.h>
#include <sys/wait.h>
#include <unistd.h>

#include <algorithm>
#include <chrono>
#include <csignal>
#include <cstdlib>
#include <filesystem>
#include <map>
#include <mutex>
#include <random>
#include <string>
#include <thread>
#include <vector>

#include "absl/strings/str_cat.h"
#include "core/ledger/whole.h"
#include "core/store/migrate.h"
#include "core/store/open.h"
#include "tests/support/entries.h"

namespace ferrule::testing {
namespace {

constexpr int kWriters = 4;
constexpr int kUnits = 40;

int Rounds() {
  const char* rounds = std::getenv("FERRULE_STORM_ROUNDS");
  return rounds != nullptr ? std::atoi(rounds) : 200;
}

std::unique_ptr<ledger::Ledger> OpenLedger(const std::string& path, const time::Clock* clock) {
  store::SqliteOptions options;
  options.path = path;
  options.create = true;
  auto database = store::OpenSqlite(options);
  if (!database.ok()) throw std::runtime_error(database.status().ToString());
  {
    auto writer = (*database)->OpenWriter();
    if (!writer.ok() || !store::Migrate(**writer).ok()) throw std::runtime_error("migrate");
  }
  auto opened = ledger::Ledger::Open(*std::move(database), clock, {});
  if (!opened.ok()) throw std::runtime_error(opened.status().ToString());
  return *std::move(opened);
}

// Entry `number` of the storm: three facts about two units, so that half of one would show.
v1::Entry StormEntry(int64_t number) {
  const int64_t at = kStartUs + number * 1'000;
  const std::string unit = absl::StrCat("K-", number % kUnits);
  const std::string other = absl::StrCat("K-", (number + 1) % kUnits);
  v1::Entry entry = EntryOf(
      absl::StrCat("storm-", number), at,
      absl::StrCat("hold_placed { unit: '", unit, "' kind: HOLD_KIND_OTHER reason: 'storm' }"),
      v1::ENTRY_MODE_OBSERVED);
  AddFact(at, absl::StrCat("unit_moved { unit: '", other, "' to_place: 'north-bench' }"), &entry);
  AddFact(at,
          absl::StrCat("hold_lifted { unit: '", unit, "' kind: HOLD_KIND_OTHER outcome: 'storm' }"),
          &entry);
  return entry;
}

// Writes numbers from `first` on, saying each on standard output before it is sent and after it
// was acknowledged, until it is killed.
[[noreturn]] void Child(const std::string& path, int64_t first) {
  time::ManualClock clock(kStartUs + 30 * kDayUs);
  auto ledger = OpenLedger(path, &clock);
  std::mutex mutex;
  int64_t next = first;
  auto say = [](char what, int64_t number) {
    const std::string line = absl::StrCat(std::string(1, what), number, "\n");
    if (::write(STDOUT_FILENO, line.data(), line.size()) < 0) ::_exit(9);
  };
  std::vector<std::thread> writers;
  for (int i = 0; i < kWriters; ++i) {
    writers.emplace_back([&] {
      while (true) {
        int64_t number = 0;
        {
          std::lock_guard lock(mutex);
          number = next++;
        }
        say('S', number);
        if (ledger->RecordAndWait(StormEntry(number)).ok()) say('A', number);
      }
    });
  }
  for (std::thread& t : writers) t.join();
  ::_exit(0);
}

struct Told {
  std::vector<int64_t> sent;
  std::vector<int64_t> acknowledged;
};

// Kills the child after that time, or as soon as it has told of so many acknowledgements.
Told RunAndKill(const std::string& path, int64_t first, std::chrono::microseconds after,
                int64_t acknowledgements) {
  int pipe[2];
  if (::pipe(pipe) != 0) throw std::runtime_error("pipe");
  const pid_t child = ::fork();
  if (child == 0) {
    ::dup2(pipe[1], STDOUT_FILENO);
    ::close(pipe[0]);
    ::execl("/proc/self/exe", "storm", "--storm-child", path.c_str(), std::to_string(first).c_str(),
            nullptr);
    ::_exit(8);
  }
  ::close(pipe[1]);
  const auto deadline = std::chrono::steady_clock::now() + after;
  int64_t acknowledged = 0;
  std::string all;
  char buffer[4096];
  while (true) {
    const auto left = std::chrono::duration_cast<std::chrono::milliseconds>(
        deadline - std::chrono::steady_clock::now());
    pollfd ready{pipe[0], POLLIN, 0};
    if (::poll(&ready, 1, static_cast<int>(std::max<int64_t>(left.count(), 0))) == 0) {
      ::kill(child, SIGKILL);
    }
    const ssize_t n = ::read(pipe[0], buffer, sizeof buffer);
    if (n <= 0) break;
    all.append(buffer, static_cast<size_t>(n));
    acknowledged += std::count(buffer, buffer + n, 'A');
    if (acknowledged >= acknowledgements) ::kill(child, SIGKILL);
  }
  ::waitpid(child, nullptr, 0);
  ::close(pipe[0]);
  Told told;
  size_t from = 0;
  for (size_t end; (end = all.find('\n', from)) != std::string::npos; from = end + 1) {
    const int64_t number = std::stoll(all.substr(from + 1, end - from - 1));
    (all[from] == 'S' ? told.sent : told.acknowledged).push_back(number);
  }
  return told;
}

TEST(LedgerStorm, KilledInTheMiddleNothingIsLostHalvedOrDoubled) {
  std::string pattern = (std::filesystem::temp_directory_path() / "ferrule-XXXXXX").string();
  const std::string folder = ::mkdtemp(pattern.data());
  const std::string path = folder + "/depot.ferrule";
  time::ManualClock clock(kStartUs + 30 * kDayUs);
  {
    auto ledger = OpenLedger(path, &clock);
    ASSERT_TRUE(ledger->RecordAndWait(SettingsEntry()).ok());
    for (int i = 0; i < kUnits; ++i) {
      ASSERT_TRUE(ledger->RecordAndWait(ReceiveUnit(absl::StrCat("K-", i), kStartUs)).ok());
    }
  }
  std::mt19937_64 random(20260302);
  int64_t next = 0;
  int64_t acknowledged = 0;
  int64_t rounds_that_wrote = 0;
  for (int round = 0; round < Rounds(); ++round) {
    // Three of four kills hit the storm, the others any moment from the start on.
    const bool in_storm = round % 4 != 0;
    const Told told = RunAndKill(
        path, next, std::chrono::microseconds(in_storm ? 10'000'000 : 2'000 + random() % 60'000),
        in_storm ? static_cast<int64_t>(1 + random() % 200) : INT64_MAX);
    acknowledged += static_cast<int64_t>(told.acknowledged.size());
    if (!told.acknowledged.empty()) ++rounds_that_wrote;
    auto ledger = OpenLedger(path, &clock);
    for (int64_t number : told.acknowledged) {
      auto receipt = ledger->RecordAndWait(StormEntry(number));
      ASSERT_TRUE(receipt.ok()) << receipt.status();
      ASSERT_TRUE(receipt->repeated()) << "entry " << number << " was acknowledged and is missing";
    }
    for (int64_t number : told.sent) {
      auto receipt = ledger->RecordAndWait(StormEntry(number));
      ASSERT_TRUE(receipt.ok()) << receipt.status();
      next = std::max(next, number + 1);
    }
    std::map<std::string, int> seen;
    if (round % 20 != 19) continue;
    ASSERT_TRUE(ledger
                    ->Read(0, "",
                           [&](const ledger::Recorded& r) {
                             v1::LedgerEntry entry;
                             EXPECT_TRUE(entry.ParseFromArray(r.bytes.data(),
                                                              static_cast<int>(r.bytes.size())));
                             EXPECT_EQ(++seen[entry.entry().entry_id()], 1)
                                 << entry.entry().entry_id();
                             return true;
                           })
                    .ok());
    for (int64_t number = 0; number < next; ++number) {
      EXPECT_EQ(seen.count(absl::StrCat("storm-", number)), 1u) << number;
    }
  }
  // The storm must have blown: most kills hit while entries were being acknowledged.
  EXPECT_GT(rounds_that_wrote, Rounds() / 2);
  EXPECT_GT(acknowledged, Rounds());
  store::SqliteOptions options;
  options.path = path;
  auto database = store::OpenSqlite(options);
  ASSERT_TRUE(database.ok());
  auto report = ledger::CheckWhole(**database, nullptr);
  ASSERT_TRUE(report.ok()) << report.status();
  EXPECT_TRUE(report->ok()) << report->broken;
  std::filesystem::remove_all(folder);
}

}  // namespace
}  // namespace ferrule::testing

int main(int argc, char** argv) {
  if (argc == 4 && std::string(argv[1]) == "--storm-child") {
    ferrule::testing::Child(argv[2], std::stoll(argv[3]));
  }
  ::testing::InitGoogleTest(&argc, argv);
  return RUN_ALL_TESTS();
}
