// Repairs with parts and meter on both sides.
#include "core/bench/repairs.h"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include "tests/support/folded_depot.h"

namespace ferrule::bench {
namespace {

using ferrule::testing::FoldedDepot;
using ::testing::ElementsAre;

constexpr int64_t kDay = 24 * 60;

RepairLog LogOf(const FoldedDepot& d) {
  RepairLog log(d.book(), 30);
  Replay("units/K-1", d.FactsOf("units/K-1"), d.book(),
         [&](const Moment& moment) { log.Visit(moment); });
  return log;
}

TEST(RepairLog, HasPartsMeterCostAndRetest) {
  FoldedDepot d;
  d.Receive("K-1", 0, "knee-a", "meter_s: 36000 parts { part: 'P-1' position: 'pendant' }");
  d.Clean("K-1", 5);
  d.Tell(10, "repair_opened { unit: 'K-1' complaint: 'dead' }");
  d.Tell(11, "part_removed { unit: 'K-1' part: 'P-1' position: 'pendant' }");
  d.Tell(12, "part_fitted { unit: 'K-1' part: 'P-2' position: 'pendant' }");
  d.Tell(13, "meter_replaced { unit: 'K-1' old_last_s: 36360 new_first_s: 0 }");
  d.Tell(14,
         "repair_closed { unit: 'K-1' cause: 'wear' work: 'new pendant' labour_s: 1800 "
         "cost_minor: 4500 }");
  d.Inspect("K-1", 20);
  const RepairLog log = LogOf(d);
  ASSERT_EQ(log.rows().size(), 1u);
  const v1::RepairRow& row = log.rows()[0];
  EXPECT_THAT(row.parts_out(), ElementsAre("P-1"));
  EXPECT_THAT(row.parts_in(), ElementsAre("P-2"));
  EXPECT_EQ(row.meter_before_s(), 36'360);
  EXPECT_EQ(row.meter_after_s(), 0);
  EXPECT_EQ(row.cost_minor(), 4'500);
  EXPECT_EQ(time::ToMicros(row.retest().time()), FoldedDepot::Us(20));
  ASSERT_EQ(log.failures().size(), 1u);
  EXPECT_EQ(log.failures()[0].at_us, FoldedDepot::Us(14));
}

TEST(RepairLog, DoesNotCountNoFaultFoundOrACauseOutsideAsAFailure) {
  FoldedDepot d;
  d.Settings(-1, ferrule::testing::FoldSettings() +
                     " repair_causes { id: 'wear' } repair_causes { id: 'drop' outside: true }");
  d.Receive("K-1", 0);
  const char* const kCloses[] = {"no_fault_found: true", "cause: 'drop'", "cause: 'wear'"};
  for (int i = 0; i < 3; ++i) {
    d.Tell(10 * i + 10, "repair_opened { unit: 'K-1' complaint: 'noise' }");
    d.Tell(10 * i + 15, std::string("repair_closed { unit: 'K-1' ") + kCloses[i] + " }");
  }
  const RepairLog log = LogOf(d);
  EXPECT_EQ(log.rows().size(), 3u);
  ASSERT_EQ(log.failures().size(), 1u);
  EXPECT_EQ(log.failures()[0].at_us, FoldedDepot::Us(35));
}

TEST(RepairLog, NamesARepeatWithinThirtyDaysOfTheRepairBefore) {
  for (int64_t days : {30, 31}) {
    FoldedDepot d;
    d.Receive("K-1", 0);
    d.Tell(10, "repair_opened { unit: 'K-1' complaint: 'noise' }");
    d.Tell(20, "repair_closed { unit: 'K-1' work: 'gear' }");
    d.Tell(20 + days * kDay, "repair_opened { unit: 'K-1' complaint: 'noise again' }");
    d.Tell(21 + days * kDay, "repair_closed { unit: 'K-1' work: 'gear' }");
    EXPECT_EQ(LogOf(d).rows()[1].repeat(), days == 30) << days;
  }
}

TEST(RepairLog, HasAnOpenRepairAsItsLastRow) {
  FoldedDepot d;
  d.Receive("K-1", 0);
  d.Tell(10, "repair_opened { unit: 'K-1' complaint: 'noise' }");
  const RepairLog log = LogOf(d);
  ASSERT_EQ(log.rows().size(), 1u);
  EXPECT_FALSE(log.rows()[0].has_closed());
  EXPECT_TRUE(log.failures().empty());
}

}  // namespace
}  // namespace ferrule::bench
