// Tests core/unit/promises.cc.
#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include "tests/support/folded_depot.h"

namespace ferrule::unit {
namespace {

using ::testing::ElementsAre;
using testing::FoldedDepot;
using ::testing::IsEmpty;

std::string Promised(const std::string& order, int from, int through,
                     const std::string& more = "") {
  return "unit_promised { unit: 'K-1' order: '" + order +
         "' from_date { year: 2026 month: 3 day: " + std::to_string(from) +
         " } through_date { year: 2026 month: 3 day: " + std::to_string(through) + " } " + more +
         " }";
}

class UnitPromises : public ::testing::Test {
 protected:
  UnitPromises() {
    depot_.ReadyKnee();
    for (const char* order : {"R-1", "R-2", "R-3"}) depot_.TakeOrder(order, 11);
  }
  std::vector<std::string> Questions() const { return depot_.Questions("units/K-1"); }
  std::vector<std::string> Orders() const {
    std::vector<std::string> orders;
    const v1::UnitState unit = depot_.Unit("K-1");
    for (const v1::StandingPromise& p : unit.promises()) orders.push_back(p.order());
    return orders;
  }
  FoldedDepot depot_;
};

TEST_F(UnitPromises, StandByTheirFirstDays) {
  depot_.Tell(20, Promised("R-2", 20, 27));
  depot_.Tell(21, Promised("R-1", 5, 19));
  EXPECT_THAT(Orders(), ElementsAre("R-1", "R-2"));
  EXPECT_THAT(Questions(), IsEmpty());
  EXPECT_EQ(depot_.Unit("K-1").commitment(), v1::COMMITMENT_FREE);
}

TEST_F(UnitPromises, NeverShareADay) {
  depot_.Tell(20, Promised("R-1", 5, 19));
  depot_.Tell(21, Promised("R-2", 19, 27));
  EXPECT_THAT(Questions(), ElementsAre("PROMISED_DAYS_TAKEN"));
}

TEST_F(UnitPromises, WhicheverArrivesFirst) {
  depot_.Tell(21, Promised("R-2", 19, 27));
  depot_.Tell(20, Promised("R-1", 5, 19));  // the earlier in true time is the one that stands
  const v1::SubjectState state = depot_.State("units/K-1");
  ASSERT_EQ(state.questions_size(), 1);
  EXPECT_EQ(testing::ValueOf(state.questions(0), "order"), "R-1");
}

TEST_F(UnitPromises, MayBeMadeAnewForTheSameOrder) {
  depot_.Tell(20, Promised("R-1", 5, 19));
  depot_.Tell(21, Promised("R-1", 8, 22));
  EXPECT_THAT(Orders(), ElementsAre("R-1"));
  EXPECT_THAT(Questions(), IsEmpty());
}

TEST_F(UnitPromises, KeepTheUnitFromOthersWithoutDays) {
  depot_.Tell(20, Promised("R-1", 15, 25));
  depot_.Tell(21, "unit_held_for_order { unit: 'K-1' order: 'R-2' }");
  EXPECT_THAT(Questions(), ElementsAre("PROMISED_TO_OTHER_ORDER"));
}

TEST_F(UnitPromises, KeepTheUnitFromBeingHandedToAnother) {
  depot_.Tell(20, Promised("R-1", 15, 25));
  depot_.HandOver("K-1", "R-2", 30);
  EXPECT_THAT(Questions(), ElementsAre("PROMISED_TO_OTHER_ORDER"));
  EXPECT_THAT(Orders(), ElementsAre("R-1"));
}

TEST_F(UnitPromises, LetAnotherHaveTheUnitForDaysOfItsOwn) {
  depot_.Tell(20, Promised("R-1", 28, 30));
  depot_.Tell(21, Promised("R-2", 3, 27));
  depot_.HandOver("K-1", "R-2", 30);
  EXPECT_THAT(Questions(), IsEmpty());
  EXPECT_THAT(Orders(), ElementsAre("R-1"));
}

TEST_F(UnitPromises, AreRefusedWhileItIsHeldWithoutDays) {
  depot_.Tell(20, "unit_held_for_order { unit: 'K-1' order: 'R-2' }");
  depot_.Tell(21, Promised("R-1", 15, 25));
  EXPECT_THAT(Questions(), ElementsAre("COMMITTED_TO_OTHER_ORDER"));
}

TEST_F(UnitPromises, HoldOnlyForTheStandingTheyWereWorkedOutWith) {
  depot_.HandOver("K-1", "R-2", 30);
  depot_.Tell(40, Promised("R-1", 15, 25));
  EXPECT_THAT(Questions(), ElementsAre("PROMISE_BASIS_CHANGED"));
}

TEST_F(UnitPromises, MayWaitForTheReturnOfAnOrder) {
  depot_.HandOver("K-1", "R-2", 30);
  depot_.Tell(40, Promised("R-1", 25, 30, "after_order: 'R-2'"));
  EXPECT_THAT(Questions(), IsEmpty());
  EXPECT_EQ(depot_.Unit("K-1").commitment(), v1::COMMITMENT_ON_RENT);
}

TEST_F(UnitPromises, LapseByTheirTimeAndWithTheirLastDay) {
  depot_.Tell(20, Promised("R-1", 15, 25, "until_time { seconds: 1772442000 }"));  // 09:00
  depot_.Tell(21, Promised("R-2", 2, 2));
  depot_.Tell(61, "meter_read { unit: 'K-1' reading_s: 0 }");
  EXPECT_THAT(Orders(), ElementsAre("R-2"));
  depot_.Tell(24 * 60, "meter_read { unit: 'K-1' reading_s: 0 }");
  EXPECT_THAT(Orders(), IsEmpty());
}

TEST_F(UnitPromises, EndWithARelease) {
  depot_.Tell(20, Promised("R-1", 15, 25));
  depot_.Tell(21, Promised("R-2", 2, 14));
  depot_.Tell(22, "order_hold_released { unit: 'K-1' order: 'R-1' }");
  EXPECT_THAT(Orders(), ElementsAre("R-2"));
  EXPECT_THAT(Questions(), IsEmpty());
}

TEST_F(UnitPromises, AndTheHoldOfTheSameOrderEndTogether) {
  depot_.Tell(20, Promised("R-1", 15, 25));
  depot_.Tell(21, "unit_held_for_order { unit: 'K-1' order: 'R-1' }");
  depot_.Tell(22, "order_hold_released { unit: 'K-1' order: 'R-1' }");
  EXPECT_THAT(Orders(), IsEmpty());
  EXPECT_EQ(depot_.Unit("K-1").commitment(), v1::COMMITMENT_FREE);
  EXPECT_THAT(Questions(), IsEmpty());
}

TEST_F(UnitPromises, OfAUnitThatIsGoneAreQuestioned) {
  depot_.Tell(20, "unit_missing { unit: 'K-1' }");
  depot_.Tell(21, Promised("R-1", 15, 25));
  EXPECT_THAT(Questions(), ElementsAre("UNACCOUNTED"));
}

}  // namespace
}  // namespace ferrule::unit
