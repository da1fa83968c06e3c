#include "core/order/progression.h"

#include <gtest/gtest.h>

#include "google/protobuf/text_format.h"

namespace ferrule::order {
namespace {

v1::OrderState Order(const std::string& details) {
  v1::OrderState order;
  if (!google::protobuf::TextFormat::ParseFromString("details { " + details + " }", &order)) {
    throw std::invalid_argument(details);
  }
  return order;
}

absl::CivilDay March(int day) { return absl::CivilDay(2026, 3, day); }

// 45 degrees on the day of the operation, 5 more each day, up to 90.
std::string FiveADay(const std::string& anchor = "PROGRESSION_ANCHOR_SURGERY") {
  return "surgery_date { year: 2026 month: 3 day: 5 } "
         "motion { extension_deg: 0 flexion_deg: 90 speed_deg_per_min: 60 } "
         "progression { anchor: " +
         anchor +
         " start_extension_deg: 10 start_flexion_deg: 45 flexion_step_deg: 5 "
         "extension_step_deg: 2 } ";
}

TEST(Progression, WithoutOneTheOrdersLimitsHold) {
  const DayLimits limits = LimitsOn(Order("motion { flexion_deg: 90 }"), March(9));
  EXPECT_EQ(limits.motion.flexion_deg(), 90);
  EXPECT_FALSE(limits.anchor.has_value());
  EXPECT_FALSE(limits.capped);
}

TEST(Progression, AddsItsStepEachDayFromTheAnchor) {
  const v1::OrderState order = Order(FiveADay());
  EXPECT_EQ(LimitsOn(order, March(5)).motion.flexion_deg(), 45);
  EXPECT_EQ(LimitsOn(order, March(6)).motion.flexion_deg(), 50);
  EXPECT_EQ(LimitsOn(order, March(6)).motion.extension_deg(), 8);
  EXPECT_EQ(LimitsOn(order, March(12)).motion.flexion_deg(), 80);
  EXPECT_EQ(LimitsOn(order, March(12)).day_number, 7);
  EXPECT_EQ(LimitsOn(order, March(12)).motion.speed_deg_per_min(), 60) << "the order's own";
}

TEST(Progression, NeverPassesTheOrder) {
  const v1::OrderState order = Order(FiveADay());
  EXPECT_EQ(LimitsOn(order, March(14)).motion.flexion_deg(), 90);
  EXPECT_TRUE(LimitsOn(order, March(14)).capped);
  EXPECT_EQ(LimitsOn(order, March(30)).motion.flexion_deg(), 90);
  EXPECT_EQ(LimitsOn(order, March(30)).motion.extension_deg(), 0);
  EXPECT_FALSE(LimitsOn(order, March(13)).capped);
}

TEST(Progression, BeforeItsAnchorTheStartHolds) {
  EXPECT_EQ(LimitsOn(Order(FiveADay()), March(2)).motion.flexion_deg(), 45);
}

TEST(Progression, WithAnUnknownAnchorTheStartHolds) {
  const v1::OrderState order = Order(FiveADay("PROGRESSION_ANCHOR_HAND_OVER"));
  const DayLimits limits = LimitsOn(order, March(20));
  EXPECT_EQ(limits.motion.flexion_deg(), 45);
  EXPECT_FALSE(limits.day_number.has_value());
}

TEST(Progression, CountsFromTheAnchorThatTheOrderNames) {
  v1::OrderState order = Order(FiveADay("PROGRESSION_ANCHOR_HAND_OVER"));
  order.mutable_handed_over_date()->set_year(2026);
  order.mutable_handed_over_date()->set_month(3);
  order.mutable_handed_over_date()->set_day(7);
  EXPECT_EQ(LimitsOn(order, March(9)).motion.flexion_deg(), 55);
  const v1::OrderState discharged = Order(FiveADay("PROGRESSION_ANCHOR_DISCHARGE") +
                                          "discharge_date { year: 2026 month: 3 day: 6 }");
  EXPECT_EQ(LimitsOn(discharged, March(9)).motion.flexion_deg(), 60);
}

TEST(Progression, MayBeginToGrowLater) {
  v1::OrderState order = Order(FiveADay());
  order.mutable_details()->mutable_progression()->set_first_step_day(3);
  EXPECT_EQ(LimitsOn(order, March(7)).motion.flexion_deg(), 45);
  EXPECT_EQ(LimitsOn(order, March(8)).motion.flexion_deg(), 50);
}

// After arthroscopic elbow release: minimum and recommended flexion on day 1 15/90, day 2 90/110,
// day 3 105/120, day 4 120/135; 20 hours a day (Scientific Reports 2025, s41598-025-16337-2,
// table 1). Here as an order's own days, extension limit left aside.
TEST(Progression, TakesDaysWithLimitsOfTheirOwn) {
  const v1::OrderState order = Order(
      "surgery_date { year: 2026 month: 3 day: 5 } motion { flexion_deg: 150 } "
      "progression { anchor: PROGRESSION_ANCHOR_SURGERY start_flexion_deg: 90 "
      "days { day: 1 motion { flexion_deg: 90 daily_use_s: 72000 } } "
      "days { day: 2 motion { flexion_deg: 110 } } days { day: 3 motion { flexion_deg: 120 } } "
      "days { day: 4 motion { flexion_deg: 135 } } "
      "days { day: 14 motion { flexion_deg: 150 daily_use_s: 36000 } } }");
  EXPECT_EQ(LimitsOn(order, March(6)).motion.flexion_deg(), 90);
  EXPECT_EQ(LimitsOn(order, March(7)).motion.flexion_deg(), 110);
  EXPECT_EQ(LimitsOn(order, March(12)).motion.flexion_deg(), 135);
  EXPECT_EQ(LimitsOn(order, March(12)).motion.daily_use_s(), 72000);
  EXPECT_EQ(LimitsOn(order, March(19)).motion.daily_use_s(), 36000);
  EXPECT_EQ(GreatestStep(order.details()), 20);
}

TEST(Progression, AcrossAClockChangeCountsDaysNotHours) {
  const v1::OrderState order = Order(FiveADay());  // the clocks go forward on 29 March in Berlin
  EXPECT_EQ(LimitsOn(order, absl::CivilDay(2026, 4, 1)).day_number, 27);
}

}  // namespace
}  // namespace ferrule::order
