#include "core/unit/service_due.h"

#include <gtest/gtest.h>

#include "tests/support/entries.h"

namespace ferrule::unit {
namespace {

// A unit that joined the fleet at the start, has run so long and been out so often since.
v1::UnitState UnitWith(int64_t run_s, int turns) {
  v1::UnitState unit;
  time::SetMicros(testing::kStartUs, unit.mutable_received()->mutable_time());
  unit.mutable_meter()->set_reading_s(run_s);
  unit.set_turn_count(turns);
  return unit;
}

v1::ServicePlan Plan(int days, int hours, int turns) {
  v1::ServicePlan plan;
  plan.set_interval_days(days);
  plan.set_interval_hours(hours);
  plan.set_interval_turns(turns);
  return plan;
}

std::string BasisAt(const v1::UnitState& unit, const v1::ServicePlan& plan, int64_t at_us,
                    int more_turns = 0) {
  const auto due = DueService(unit, plan, absl::UTCTimeZone(), {at_us, 0, more_turns});
  return due ? due->basis : "";
}

TEST(ServiceDue, AnIntervalExactlyUsedUpIsNotDue) {
  const int64_t day = testing::kDayUs;
  EXPECT_EQ(BasisAt(UnitWith(0, 0), Plan(10, 0, 0), testing::kStartUs + 10 * day), "");
  EXPECT_EQ(BasisAt(UnitWith(0, 0), Plan(10, 0, 0), testing::kStartUs + 11 * day), "days");
  EXPECT_EQ(BasisAt(UnitWith(360'000, 0), Plan(0, 100, 0), testing::kStartUs), "");
  EXPECT_EQ(BasisAt(UnitWith(360'001, 0), Plan(0, 100, 0), testing::kStartUs), "hours");
  EXPECT_EQ(BasisAt(UnitWith(0, 3), Plan(0, 0, 3), testing::kStartUs), "");
  EXPECT_EQ(BasisAt(UnitWith(0, 4), Plan(0, 0, 3), testing::kStartUs), "turns");
}

TEST(ServiceDue, TheLastRentalOfTheIntervalMayStillBegin) {
  EXPECT_EQ(BasisAt(UnitWith(0, 2), Plan(0, 0, 3), testing::kStartUs, 1), "");
  EXPECT_EQ(BasisAt(UnitWith(0, 3), Plan(0, 0, 3), testing::kStartUs, 1), "turns");
}

TEST(ServiceDue, WhicheverComesFirst) {
  const int64_t late = testing::kStartUs + 400 * testing::kDayUs;
  EXPECT_EQ(BasisAt(UnitWith(400'000, 9), Plan(365, 100, 3), late), "days");
  EXPECT_EQ(BasisAt(UnitWith(400'000, 9), Plan(0, 100, 3), late), "hours");
  EXPECT_EQ(BasisAt(UnitWith(400'000, 9), Plan(0, 0, 0), late), "");
}

TEST(ServiceDue, CountsFromTheLastService) {
  v1::UnitState unit = UnitWith(400'000, 9);
  time::SetMicros(testing::kStartUs + 90 * testing::kDayUs,
                  unit.mutable_serviced()->mutable_time());
  unit.set_serviced_run_s(390'000);
  unit.set_serviced_turn_count(8);
  EXPECT_EQ(BasisAt(unit, Plan(100, 100, 3), testing::kStartUs + 190 * testing::kDayUs), "");
}

TEST(ServiceDue, DaysAreLocalCivilDaysNotSpansOf24Hours) {
  // Received Saturday 2026-03-28 23:30 in Berlin; the clocks go forward that night, so day 1 begins
  // 30 minutes later and day 2 only 23 h after that.
  const absl::TimeZone berlin = *time::Zone("Europe/Berlin");
  v1::UnitState unit;
  const int64_t received = *time::ParseInstant("2026-03-28 23:30", berlin);
  time::SetMicros(received, unit.mutable_received()->mutable_time());
  const auto due = [&](const char* local) {
    return DueService(unit, Plan(1, 0, 0), berlin, {*time::ParseInstant(local, berlin), 0, 0})
        .has_value();
  };
  EXPECT_FALSE(due("2026-03-29 23:59"));
  EXPECT_TRUE(due("2026-03-30 00:00"));
}

}  // namespace
}  // namespace ferrule::unit
