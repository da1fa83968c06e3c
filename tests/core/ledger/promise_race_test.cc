// Two clerks are never promised the last unit at once: 16 callers on one depot, and on two
// processes' worth of one PostgreSQL.
#include "tests/support/promise_race.h"

#include <gtest/gtest.h>

#include "core/store/open.h"
#include "tests/support/depot_stores.h"
#include "tests/support/entries.h"

namespace ferrule::testing {
namespace {

constexpr int kCallers = 16;
constexpr int64_t kAttempts = 6'000;  // a million are in ferrule_bench promise-race

std::unique_ptr<ledger::Ledger> OpenLedger(std::unique_ptr<store::Database> database,
                                           const time::Clock* clock) {
  auto ledger = ledger::Ledger::Open(std::move(database), clock, {});
  if (!ledger.ok()) throw std::runtime_error(ledger.status().ToString());
  return *std::move(ledger);
}

void ExpectNoDoublePromise(const RaceResult& result, ledger::Ledger& ledger) {
  EXPECT_EQ(result.attempts, kAttempts);
  EXPECT_EQ(result.failed, 0) << result.first_failure;
  EXPECT_GT(result.kept, 100);
  EXPECT_GT(result.refused, 1000) << "a race that nobody loses proves nothing";
  EXPECT_EQ(result.attempts, result.kept + result.released + result.refused);
  EXPECT_EQ(PromisedTwice(ledger, "a"), std::vector<std::string>());
}

class PromiseRace : public ::testing::TestWithParam<StoreKind> {
 protected:
  TestStore store_{GetParam()};
  time::ManualClock clock_{kStartUs + 30 * kDayUs};
};

TEST_P(PromiseRace, NoDayOfAUnitIsPromisedTwice) {
  const auto ledger = OpenLedger(store_.OpenMigrated(), &clock_);
  ExpectNoDoublePromise(RunRace({ledger.get()}, kCallers, kAttempts, "a"), *ledger);
}

INSTANTIATE_TEST_SUITE_P(Engines, PromiseRace, ::testing::ValuesIn(kLastingStores), StoreKindName);

TEST(PromiseRaceOfTwoServers, NoDayOfAUnitIsPromisedTwice) {
  TestStore store(StoreKind::kPostgres);
  time::ManualClock clock(kStartUs + 30 * kDayUs);
  const auto one = OpenLedger(store.OpenMigrated(), &clock);
  const auto other = OpenLedger(store.Open(), &clock);
  ExpectNoDoublePromise(RunRace({one.get(), other.get()}, kCallers, kAttempts, "a"), *other);
}

}  // namespace
}  // namespace ferrule::testing
