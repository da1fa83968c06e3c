#include "core/order/usage.h"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include "tests/support/folded_depot.h"

namespace ferrule::order {
namespace {

using testing::FoldedDepot;
using ::testing::HasSubstr;

constexpr int64_t kDay = 24 * 60;  // minutes

class Usage : public ::testing::Test {
 protected:
  Usage() {
    depot_.ReadyKnee();
    depot_.TakeOrder("R-1", 11);  // 4 hours a day prescribed
    depot_.HandOver("K-1", "R-1", 60, "meter_s: 36000");
  }
  void Report(int64_t at_min, const std::string& what) {
    depot_.Tell(at_min, "usage_reported { order: 'R-1' " + what + " }");
  }
  v1::GetUsageResponse Now() const {
    return UsageOf(depot_.Order("R-1"), depot_.book().At(testing::kStartUs));
  }
  static std::string Meter(int64_t hours) {
    return "meter_s: " + std::to_string(hours * 3600) + " source: USAGE_SOURCE_METER";
  }

  FoldedDepot depot_;
};

TEST_F(Usage, IsCountedFromReadingToReading) {
  Report(60 + 4 * kDay, Meter(18));
  depot_.PickUp("K-1", "R-1", 60 + 14 * kDay, "meter_s: 194400");  // 54 h
  const v1::GetUsageResponse usage = Now();
  ASSERT_EQ(usage.intervals_size(), 2);
  EXPECT_EQ(usage.intervals(0).used_s(), 8 * 3600);
  EXPECT_EQ(usage.intervals(0).day_count(), 4);
  EXPECT_EQ(usage.intervals(1).used_s(), 36 * 3600);
  EXPECT_EQ(usage.day_count(), 14);
  EXPECT_EQ(usage.daily_use_s(), 44 * 3600 / 14);
  EXPECT_EQ(usage.prescribed_daily_use_s(), 14400);
  EXPECT_EQ(usage.used_permille(), 785);
}

TEST_F(Usage, AMeterThatFellIsSetAsideAndGoneOnFrom) {
  Report(60 + 4 * kDay, Meter(18));
  Report(60 + 6 * kDay, Meter(2));
  Report(60 + 8 * kDay, Meter(8));
  const v1::GetUsageResponse usage = Now();
  ASSERT_EQ(usage.intervals_size(), 3);
  EXPECT_THAT(usage.intervals(1).doubt(), HasSubstr("the meter fell from 18.0 h to 2.0 h"));
  EXPECT_EQ(usage.used_s(), 14 * 3600);
  EXPECT_EQ(usage.day_count(), 6);
  EXPECT_EQ(usage.doubtful_count(), 1);
}

TEST_F(Usage, MoreHoursThanHavePassedAreSetAside) {
  Report(60 + 2 * kDay, Meter(110));
  Report(60 + 4 * kDay, Meter(18));
  const v1::GetUsageResponse usage = Now();
  EXPECT_THAT(usage.intervals(0).doubt(), HasSubstr("100.0 h of use in 48.0 h"));
  EXPECT_EQ(usage.used_s(), 8 * 3600) << "counted from the reading before the impossible one";
  EXPECT_EQ(depot_.Questions("orders/R-1"),
            (std::vector<std::string>{"METER_BEYOND_ELAPSED", "METER_FELL"}));
}

TEST_F(Usage, WhatIsToldCountsWhereNoMeterWasRead) {
  Report(60 + 3 * kDay,
         "used_s: 21600 from_date { year: 2026 month: 3 day: 3 } "
         "through_date { year: 2026 month: 3 day: 4 } source: USAGE_SOURCE_TOLD");
  v1::GetUsageResponse usage = Now();
  EXPECT_EQ(usage.used_s(), 6 * 3600);
  EXPECT_EQ(usage.day_count(), 2);
  Report(60 + 7 * kDay, Meter(31));
  usage = Now();
  EXPECT_EQ(usage.used_s(), 21 * 3600) << "the meter stands above what was told";
  EXPECT_EQ(usage.doubtful_count(), 1);
}

TEST_F(Usage, ALaterWordOnTheSameDaysCounts) {
  for (int hours : {2, 3}) {
    Report(60 + (3 + hours) * kDay,
           "used_s: " + std::to_string(hours * 3600) +
               " from_date { year: 2026 month: 3 day: 3 } "
               "through_date { year: 2026 month: 3 day: 3 } source: USAGE_SOURCE_TOLD");
  }
  EXPECT_EQ(Now().used_s(), 3 * 3600);
}

TEST_F(Usage, MoreThanTheDaysHoldIsAsked) {
  Report(60 + 3 * kDay,
         "used_s: 180000 from_date { year: 2026 month: 3 day: 3 } "
         "through_date { year: 2026 month: 3 day: 4 } source: USAGE_SOURCE_TOLD");
  EXPECT_EQ(depot_.Questions("orders/R-1"), std::vector<std::string>{"USAGE_BEYOND_ELAPSED"});
  EXPECT_EQ(Now().used_s(), 0);
}

TEST_F(Usage, OfTwoUnitsIsAddedUpAcrossAnExchange) {
  depot_.Receive("K-2", 0, "knee-a", "parts { part: 'P-2' position: 'pendant' }");
  depot_.MakeReady("K-2", 20);
  depot_.Tell(60 + 5 * kDay,
              "exchanged { order: 'R-1' unit_out: 'K-1' to_place: 'van-dirty' out_meter_s: 72000 "
              "unit_in: 'K-2' unit_in_model: 'knee-a' unit_in_side: SIDE_LEFT in_meter_s: 3600 }");
  Report(60 + 7 * kDay, Meter(9));
  const v1::GetUsageResponse usage = Now();
  EXPECT_EQ(usage.used_s(), (10 + 8) * 3600);
  EXPECT_EQ(usage.day_count(), 7);
}

TEST_F(Usage, IsLowBelowTheSettingsShare) {
  depot_.Settings(-30, testing::FoldSettings() + " usage_policy { low_use_permille: 500 }");
  Report(60 + 4 * kDay, Meter(17));  // 7 h in 4 days of 4 h
  EXPECT_TRUE(Now().low());
  Report(60 + 5 * kDay, Meter(27));
  EXPECT_FALSE(Now().low());
}

TEST_F(Usage, WithoutReadingsSaysNothing) {
  const v1::GetUsageResponse usage = Now();
  EXPECT_EQ(usage.intervals_size(), 0);
  EXPECT_FALSE(usage.has_used_permille());
  EXPECT_FALSE(usage.low());
}

}  // namespace
}  // namespace ferrule::order
