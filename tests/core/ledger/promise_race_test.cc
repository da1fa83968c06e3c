// Two clerks are never promised the last unit at once: 16 callers on one depot, and on two
// processes' worth of one PostgreSQL.
#include "tests/support/promise_race.h"

#include <gtest/gtest.h>

#include <chrono>
#include <cstdio>
#include <cstdlib>

#include "core/store/open.h"
#include "tests/support/depot_stores.h"
#include "tests/support/entries.h"

namespace ferrule::testing {
namespace {

constexpr int kCallers = 16;
constexpr int64_t kAttempts = 6'000;  // a race; ferrule_bench promise-race makes a million

std::unique_ptr<ledger::Ledger> OpenLedger(std::unique_ptr<store::Database> database,
                                           const time::Clock* clock) {
  auto ledger = ledger::Ledger::Open(std::move(database), clock, {});
  if (!ledger.ok()) throw std::runtime_error(ledger.status().ToString());
  return *std::move(ledger);
}

void ExpectNoDoublePromise(const RaceResult& result, ledger::Ledger& ledger,
                           const std::string& prefix) {
  EXPECT_EQ(result.attempts, kAttempts);
  EXPECT_EQ(result.failed, 0) << result.first_failure;
  EXPECT_GT(result.kept, 100);
  EXPECT_GT(result.refused, 1000) << "a race that nobody loses proves nothing";
  EXPECT_EQ(result.attempts, result.kept + result.released + result.refused);
  EXPECT_EQ(PromisedTwice(ledger, prefix), std::vector<std::string>());
}

// One race, or races on fresh units for FERRULE_RACE_SECONDS.
void RaceOn(const std::vector<ledger::Ledger*>& ledgers) {
  const char* seconds = std::getenv("FERRULE_RACE_SECONDS");
  const auto until =
      std::chrono::steady_clock::now() + std::chrono::seconds(seconds ? std::atoi(seconds) : 0);
  int64_t attempts = 0;
  int64_t kept = 0;
  int round = 0;
  do {
    const std::string prefix = "race-" + std::to_string(round++) + "-";
    const RaceResult result = RunRace(ledgers, kCallers, kAttempts, prefix);
    ExpectNoDoublePromise(result, *ledgers.back(), prefix);
    attempts += result.attempts;
    kept += result.kept;
  } while (std::chrono::steady_clock::now() < until && !::testing::Test::HasFailure());
  std::printf("%lld attempts by %d callers, %lld promises kept\n", static_cast<long long>(attempts),
              kCallers, static_cast<long long>(kept));
}

class PromiseRace : public ::testing::TestWithParam<StoreKind> {
 protected:
  TestStore store_{GetParam()};
  time::ManualClock clock_{kStartUs + 30 * kDayUs};
};

TEST_P(PromiseRace, NoDayOfAUnitIsPromisedTwice) {
  const auto ledger = OpenLedger(store_.OpenMigrated(), &clock_);
  RaceOn({ledger.get()});
}

INSTANTIATE_TEST_SUITE_P(Engines, PromiseRace, ::testing::ValuesIn(kLastingStores), StoreKindName);

TEST(PromiseRaceOfTwoServers, NoDayOfAUnitIsPromisedTwice) {
  TestStore store(StoreKind::kPostgres);
  time::ManualClock clock(kStartUs + 30 * kDayUs);
  const auto one = OpenLedger(store.OpenMigrated(), &clock);
  const auto other = OpenLedger(store.Open(), &clock);
  RaceOn({one.get(), other.get()});
}

}  // namespace
}  // namespace ferrule::testing
