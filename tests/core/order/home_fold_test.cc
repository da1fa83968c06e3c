#include "core/order/home_fold.h"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include "tests/support/folded_depot.h"

namespace ferrule::order {
namespace {

using ::testing::ElementsAre;
using testing::FoldedDepot;
using ::testing::IsEmpty;
using testing::Reasons;

constexpr int64_t kDay = 24 * 60;

std::string Promised(const std::string& unit, const std::string& order, int from, int through,
                     const std::string& more = "") {
  return "unit_promised { unit: '" + unit + "' order: '" + order +
         "' from_date { year: 2026 month: 3 day: " + std::to_string(from) +
         " } through_date { year: 2026 month: 3 day: " + std::to_string(through) + " } " + more +
         " }";
}

TEST(OrderPromise, IsKeptUntilItsUnitGoesOut) {
  FoldedDepot depot;
  depot.ReadyKnee();
  depot.TakeOrder("R-1", 11);
  depot.Tell(20, Promised("K-1", "R-1", 5, 27, "firm: true odds_permille: 973"));
  EXPECT_EQ(depot.Order("R-1").promise().unit(), "K-1");
  EXPECT_EQ(depot.Order("R-1").promise().odds_permille(), 973);
  EXPECT_TRUE(depot.Order("R-1").promise().has_promised());
  depot.HandOver("K-1", "R-1", 30);
  EXPECT_FALSE(depot.Order("R-1").has_promise());
  EXPECT_THAT(depot.Questions("orders/R-1"), IsEmpty());
  EXPECT_THAT(depot.Unit("K-1").promises(), IsEmpty());
}

TEST(OrderPromise, OnASecondUnitIsQuestionedUnlessTheFirstIsReleased) {
  FoldedDepot depot;
  depot.ReadyKnee();
  depot.Receive("K-2", 1, "knee-a", "");
  depot.TakeOrder("R-1", 11);
  depot.Tell(20, Promised("K-1", "R-1", 5, 27));
  depot.Tell(21, Promised("K-2", "R-1", 5, 27));
  EXPECT_THAT(depot.Questions("orders/R-1"), ElementsAre("ORDER_PROMISED_OTHER_UNIT"));
}

TEST(OrderPromise, MovesWithItsRelease) {
  FoldedDepot depot;
  depot.ReadyKnee();
  depot.Receive("K-2", 1, "knee-a", "");
  depot.TakeOrder("R-1", 11);
  depot.Tell(20, Promised("K-1", "R-1", 5, 27));
  depot.Tell(21, "order_hold_released { unit: 'K-1' order: 'R-1' reason: 'moved' }");
  depot.Tell(22, Promised("K-2", "R-1", 5, 27));
  EXPECT_EQ(depot.Order("R-1").promise().unit(), "K-2");
  EXPECT_THAT(depot.Unit("K-1").promises(), IsEmpty());
  EXPECT_THAT(depot.Questions("orders/R-1"), IsEmpty());
  EXPECT_THAT(depot.Questions("units/K-1"), IsEmpty());
}

TEST(OrderPromise, LapsesByItself) {
  FoldedDepot depot;
  depot.ReadyKnee();
  depot.TakeOrder("R-1", 11);
  depot.Tell(20, Promised("K-1", "R-1", 5, 27, "until_time { seconds: 1772442000 }"));  // 09:00
  depot.Tell(61, "order_changed { order: 'R-1' details { procedure: 'x' } }");
  EXPECT_FALSE(depot.Order("R-1").has_promise());
}

TEST(OrderPromise, OfACancelledOrderIsOver) {
  FoldedDepot depot;
  depot.ReadyKnee();
  depot.TakeOrder("R-1", 11);
  depot.Tell(12, "waiting_noted { order: 'R-1' }");
  depot.Tell(20, Promised("K-1", "R-1", 5, 27));
  depot.Tell(21, "order_cancelled { order: 'R-1' }");
  EXPECT_FALSE(depot.Order("R-1").has_promise());
  depot.Tell(22, "order_hold_released { unit: 'K-1' order: 'R-1' }");
  EXPECT_THAT(depot.Questions("orders/R-1"), IsEmpty());
  EXPECT_THAT(depot.Unit("K-1").promises(), IsEmpty());
}

TEST(OrderWaiting, KeepsItsPlaceAndEndsWithAPromise) {
  FoldedDepot depot;
  depot.ReadyKnee();
  depot.TakeOrder("R-1", 11);
  depot.Tell(12, "waiting_noted { order: 'R-1' asked_date { year: 2026 month: 3 day: 5 } }");
  depot.Tell(15, "waiting_noted { order: 'R-1' reason: 'all out' }");
  const v1::Waiting waiting = depot.Order("R-1").waiting();
  EXPECT_EQ(time::ToMicros(waiting.noted().time()), FoldedDepot::Us(12));
  EXPECT_EQ(waiting.asked_date().day(), 5);
  EXPECT_EQ(waiting.reason(), "all out");
  depot.Tell(20, Promised("K-1", "R-1", 5, 27));
  EXPECT_FALSE(depot.Order("R-1").has_waiting());
}

TEST(OrderWaiting, EndsWithAHold) {
  FoldedDepot depot;
  depot.ReadyKnee();
  depot.TakeOrder("R-1", 11);
  depot.Tell(12, "waiting_noted { order: 'R-1' }");
  depot.Tell(20, "unit_held_for_order { unit: 'K-1' order: 'R-1' }");
  EXPECT_FALSE(depot.Order("R-1").has_waiting());
}

TEST(OrderRefusals, AreKeptAsDemand) {
  FoldedDepot depot;
  depot.TakeOrder("R-1", 11);
  for (int day : {5, 6}) {
    depot.Tell(12 + day,
               "promise_refused { order: 'R-1' kind: REFUSAL_KIND_NO_UNIT asked_date { "
               "year: 2026 month: 3 day: " +
                   std::to_string(day) + " } }");
  }
  ASSERT_EQ(depot.Order("R-1").refused_promises_size(), 2);
  EXPECT_EQ(depot.Order("R-1").refused_promises(1).asked_date().day(), 6);
  EXPECT_EQ(depot.Order("R-1").status(), v1::ORDER_STATUS_OPEN);
}

class OrderMotion : public ::testing::Test {
 protected:
  OrderMotion() {
    depot_.ReadyKnee();
    depot_.TakeOrder("R-1", 11,
                     "progression { anchor: PROGRESSION_ANCHOR_SURGERY start_flexion_deg: 40 "
                     "flexion_step_deg: 5 }");
  }
  FoldedDepot depot_;
};

TEST_F(OrderMotion, AheadOfItsDayIsQuestionedAtTheHandOver) {
  depot_.HandOver("K-1", "R-1", 60, "motion { extension_deg: 0 flexion_deg: 45 }");
  EXPECT_THAT(depot_.Questions("orders/R-1"), ElementsAre("SETTING_AHEAD_OF_PROGRESSION"));
}

TEST_F(OrderMotion, WithinItsDayIsNot) {
  depot_.HandOver("K-1", "R-1", 60, "motion { extension_deg: 0 flexion_deg: 40 }");
  EXPECT_THAT(depot_.Questions("orders/R-1"), IsEmpty());
  // Four days after the operation 60 degrees are ordered.
  depot_.Tell(7 * kDay + 60,
              "motion_changed { order: 'R-1' motion { flexion_deg: 60 } "
              "changed_by: MOTION_CHANGER_THERAPIST reason: 'as ordered' }");
  EXPECT_THAT(depot_.Questions("orders/R-1"), IsEmpty());
  const v1::OrderState order = depot_.Order("R-1");
  EXPECT_EQ(order.motion_set().flexion_deg(), 60);
  EXPECT_TRUE(order.motion_set().has_extension_deg());
  ASSERT_EQ(order.motion_changes_size(), 2);
  EXPECT_EQ(order.motion_changes(0).changed_by(), v1::MOTION_CHANGER_REP);
  EXPECT_EQ(order.motion_changes(1).changed_by(), v1::MOTION_CHANGER_THERAPIST);
}

TEST_F(OrderMotion, BeyondOrderOrModelIsQuestionedWhoeverChangedIt) {
  depot_.HandOver("K-1", "R-1", 60, "motion { flexion_deg: 40 }");
  depot_.Tell(9 * kDay,
              "motion_changed { order: 'R-1' motion { flexion_deg: 125 "
              "speed_deg_per_min: 200 } changed_by: MOTION_CHANGER_PATIENT }");
  EXPECT_THAT(depot_.Questions("orders/R-1"),
              ElementsAre("SETTING_BEYOND_ORDER", "SETTING_BEYOND_ORDER", "SETTING_BEYOND_MODEL",
                          "SETTING_BEYOND_MODEL"));
}

TEST_F(OrderMotion, ANewProgressionReplacesTheOldAndIsDated) {
  depot_.Tell(30,
              "order_changed { order: 'R-1' details { progression { anchor: "
              "PROGRESSION_ANCHOR_SURGERY days { day: 2 motion { flexion_deg: 50 } } } } }");
  const v1::OrderState order = depot_.Order("R-1");
  EXPECT_FALSE(order.details().progression().has_start_flexion_deg());
  EXPECT_EQ(order.details().progression().days_size(), 1);
  EXPECT_EQ(time::ToMicros(order.motion_ordered().time()), FoldedDepot::Us(30));
  depot_.Tell(40, "order_changed { order: 'R-1' details { procedure: 'x' } }");
  EXPECT_EQ(time::ToMicros(depot_.Order("R-1").motion_ordered().time()), FoldedDepot::Us(30));
}

TEST(OrderMeasures, ThatLookLikeASlipAreQuestioned) {
  FoldedDepot depot;
  depot.Settings(-30, testing::FoldSettings() +
                          " measure_bands { kind: MEASURE_KIND_LEG min_mm: 600 max_mm: 1200 }");
  depot.TakeOrder("R-1", 11, "measures { leg { hundredths: 3200 measured_in: LENGTH_UNIT_CM } }");
  const v1::SubjectState state = depot.State("orders/R-1");
  ASSERT_THAT(Reasons(state.questions()), ElementsAre("MEASURE_IMPLAUSIBLE"));
  v1::Finding asked = state.questions(0);
  finding::PutIntoWords(absl::UTCTimeZone(), &asked);
  EXPECT_EQ(asked.text(),
            "a measure of order R-1 can hardly be right: leg length 32 cm, believed are 60 cm to "
            "120 cm; in another unit of measure it would be 32 in");
}

TEST(OrderMeasures, AreHeldAgainstTheModelAtTheHandOver) {
  FoldedDepot depot;
  std::string settings = testing::FoldSettings();
  settings.replace(settings.find("parts { position: 'pendant'"), 0,
                   "fit { max_weight_g: 100000 } ");
  depot.Settings(-30, settings);
  depot.ReadyKnee();
  depot.TakeOrder("R-1", 11,
                  "measures { weight { hundredths: 11000 measured_in: WEIGHT_UNIT_KG } }");
  depot.HandOver("K-1", "R-1", 60);
  const v1::SubjectState state = depot.State("orders/R-1");
  ASSERT_THAT(Reasons(state.questions()), ElementsAre("WEIGHT_ABOVE_RATING"));
  EXPECT_EQ(state.questions(0).subject(), "orders/R-1");
}

}  // namespace
}  // namespace ferrule::order
