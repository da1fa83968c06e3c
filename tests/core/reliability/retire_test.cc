// Repair or retire; the figures are invented.
#include "core/reliability/retire.h"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

namespace ferrule::reliability {
namespace {

using ::testing::ElementsAre;
using ::testing::HasSubstr;
using ::testing::IsEmpty;

// Two years old, 20 turns, so 30 turns are to come in five years.
RepairCase Sound() {
  RepairCase unit;
  unit.repair_cost = 10'000;
  unit.spent = 20'000;
  unit.spent_last_year = 10'000;
  unit.replacement_cost = 400'000;
  unit.model_spent = 500'000;
  unit.model_turns = 500;
  unit.age_days = 2 * 365.25;
  unit.turns = 20;
  return unit;
}

TEST(RepairAdvice, OfASoundUnitIsToRepair) {
  const RepairAdvice advice = AdviseRepair(Sound());
  EXPECT_FALSE(advice.retire);
  EXPECT_THAT(advice.reasons, IsEmpty());
  EXPECT_NEAR(advice.remaining_turns, 30, 1e-9);
  EXPECT_EQ(advice.repaired_cost_per_turn, 1'333) << "10000 / 30 + 20000 / 20";
  EXPECT_EQ(advice.new_cost_per_turn, 9'000) << "400000 / 50 + 500000 / 500";
}

TEST(RepairAdvice, OfOneWhoseRepairsEatTooMuchOfANewOneIsToRetire) {
  RepairCase unit = Sound();
  unit.repair_cost = 190'000;  // with 10,000 within the year: equal to the half
  EXPECT_FALSE(AdviseRepair(unit).retire);
  unit.repair_cost = 190'100;
  const RepairAdvice advice = AdviseRepair(unit);
  EXPECT_TRUE(advice.retire);
  EXPECT_THAT(advice.reasons, ElementsAre(HasSubstr("2001.00, more than the 2000.00")));
}

TEST(RepairAdvice, OfOneWhoseTurnsCostMoreThanANewOnesIsToRetire) {
  RepairCase unit = Sound();
  unit.age_days = 4.8 * 365.25;
  unit.turns = 48;  // the same pace: two turns are left
  unit.repair_cost = 30'000;
  const RepairAdvice advice = AdviseRepair(unit);
  EXPECT_TRUE(advice.retire);
  EXPECT_THAT(advice.reasons, ElementsAre(HasSubstr("a turn of the repaired unit costs")));
}

TEST(RepairAdvice, OfOneBeyondItsLifeIsToRetire) {
  RepairCase unit = Sound();
  unit.age_days = 5 * 365.25;
  const RepairAdvice advice = AdviseRepair(unit);
  EXPECT_TRUE(advice.retire);
  EXPECT_EQ(advice.repaired_cost_per_turn, -1);
}

TEST(RepairAdvice, FailingBeyondChanceIsAReasonToLookAndNotToRetire) {
  RepairCase unit = Sound();
  unit.beyond_chance = true;
  EXPECT_FALSE(AdviseRepair(unit).retire);
  EXPECT_EQ(AdviseRepair(unit).reasons.size(), 1u);
}

TEST(RepairAdvice, WithoutAPriceComparesNothing) {
  RepairCase unit = Sound();
  unit.replacement_cost = 0;
  unit.repair_cost = 1'000'000;
  EXPECT_FALSE(AdviseRepair(unit).retire);
  EXPECT_EQ(AdviseRepair(unit).new_cost_per_turn, -1);
}

}  // namespace
}  // namespace ferrule::reliability
