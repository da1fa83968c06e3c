// Planned service, projected from the unit's own use. The plan: 180 days, 1000 hours, 3 turns.
#include "core/bench/service_standing.h"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include "tests/support/folded_depot.h"

namespace ferrule::bench {
namespace {

using ferrule::testing::FoldedDepot;

constexpr int64_t kDay = 24 * 60;

struct Asked {
  int64_t on_day = 0;
  int64_t daily_use_s = 0;
  int rental_ends_on = -1;  // day of the depot; -1 not known
  int next_rental_days = 0;
};

v1::ServiceRow RowOf(const FoldedDepot& d, const Asked& asked) {
  const absl::CivilDay first(2026, 3, 2);
  ServiceOutlook outlook;
  outlook.now_us = FoldedDepot::Us(asked.on_day * kDay);
  outlook.zone = absl::UTCTimeZone();
  outlook.daily_use_s = asked.daily_use_s;
  if (asked.rental_ends_on >= 0) outlook.rental_ends = first + asked.rental_ends_on;
  outlook.next_rental_days = asked.next_rental_days;
  outlook.through = first + asked.on_day + 30;
  return StandingOf(d.Unit("K-1"), *d.book().At(outlook.now_us).FindServicePlan("knee-plan"),
                    outlook);
}

FoldedDepot AtHome() {
  FoldedDepot d;
  d.Receive("K-1", 0, "knee-a", "meter_s: 0 parts { part: 'P' position: 'pendant' }");
  d.MakeReady("K-1", 1);
  d.TakeOrder("O-1", 10);
  d.HandOver("K-1", "O-1", 20);
  return d;
}

TEST(ServiceStanding, ByDaysIsOverdueTheDayAfterTheLast) {
  FoldedDepot d;
  d.Receive("K-1", 0);
  const v1::ServiceRow last = RowOf(d, {180});
  EXPECT_EQ(last.overdue_days(), 0);
  EXPECT_NE(last.standing(), v1::SERVICE_STANDING_OVERDUE);
  const v1::ServiceRow after = RowOf(d, {181});
  EXPECT_EQ(after.standing(), v1::SERVICE_STANDING_OVERDUE);
  EXPECT_EQ(after.basis(), "days");
  EXPECT_EQ(after.overdue_days(), 1);
}

TEST(ServiceStanding, ComingIsWithinTheDaysAskedFor) {
  FoldedDepot d;
  d.Receive("K-1", 0);
  EXPECT_EQ(RowOf(d, {150}).standing(), v1::SERVICE_STANDING_COMING);
  EXPECT_EQ(RowOf(d, {149}).standing(), v1::SERVICE_STANDING_NOT_DUE);
}

TEST(ServiceStanding, InTheFieldIsProjectedFromTheUnitsOwnHours) {
  FoldedDepot d = AtHome();
  d.Tell(100 * kDay, "meter_read { unit: 'K-1' reading_s: 3456000 }");  // 960 of 1000 h
  // Four hours a day: ten days are left.
  const v1::ServiceRow row = RowOf(d, {100, 14'400, 111});
  EXPECT_EQ(row.basis(), "hours");
  EXPECT_EQ(row.due_date().day(), 20);  // 2026-06-10 and ten days
  EXPECT_EQ(row.standing(), v1::SERVICE_STANDING_DUE_IN_FIELD);
  EXPECT_NE(RowOf(d, {100, 14'400, 110}).standing(), v1::SERVICE_STANDING_DUE_IN_FIELD);
  EXPECT_EQ(RowOf(d, {100, 0, 111}).basis(), "days") << "without a use nothing is projected";
}

TEST(ServiceStanding, WarnsThatItFallsIntoTheNextRental) {
  FoldedDepot d;
  d.Receive("K-1", 0);
  EXPECT_EQ(RowOf(d, {100, 0, -1, 80}).standing(), v1::SERVICE_STANDING_NOT_DUE);
  EXPECT_EQ(RowOf(d, {100, 0, -1, 81}).standing(), v1::SERVICE_STANDING_DUE_IN_NEXT_RENTAL);
  // 81 days of 12.5 h are more than 1000 h.
  EXPECT_EQ(RowOf(d, {10, 45'000, -1, 80}).standing(), v1::SERVICE_STANDING_NOT_DUE);
  EXPECT_EQ(RowOf(d, {10, 45'000, -1, 81}).standing(), v1::SERVICE_STANDING_DUE_IN_NEXT_RENTAL);
}

TEST(ServiceStanding, OfAUnitThatCannotBeFoundIsOverdueAllTheSame) {
  FoldedDepot d;
  d.Receive("K-1", 0);
  d.Tell(10, "unit_missing { unit: 'K-1' }");
  const v1::ServiceRow row = RowOf(d, {200});
  EXPECT_EQ(row.standing(), v1::SERVICE_STANDING_OVERDUE);
  EXPECT_EQ(row.custody(), v1::CUSTODY_UNACCOUNTED);
}

TEST(ServiceStanding, PutOffIsStillLateAndSaysByWhom) {
  FoldedDepot d;
  d.Receive("K-1", 0);
  d.Tell(100,
         "service_deferred { unit: 'K-1' plan: 'knee-plan' authority: 'lead-eve' because: "
         "'x' until_date { year: 2026 month: 9 day: 10 } }");
  const v1::ServiceRow row = RowOf(d, {185});
  EXPECT_EQ(row.standing(), v1::SERVICE_STANDING_DEFERRED);
  EXPECT_EQ(row.deferred_by(), "lead-eve");
  EXPECT_EQ(row.overdue_days(), 5);
  EXPECT_EQ(RowOf(d, {193}).standing(), v1::SERVICE_STANDING_OVERDUE) << "2026-09-11";
}

TEST(ServiceStanding, TheMostUrgentComesFirst) {
  v1::ServiceRow coming;
  coming.set_standing(v1::SERVICE_STANDING_COMING);
  v1::ServiceRow late;
  late.set_standing(v1::SERVICE_STANDING_OVERDUE);
  late.set_overdue_days(2);
  late.mutable_due_date()->set_year(2026);
  v1::ServiceRow later = late;
  later.set_overdue_days(9);
  EXPECT_TRUE(MoreUrgent(later, late));
  EXPECT_TRUE(MoreUrgent(late, coming));
  EXPECT_FALSE(MoreUrgent(late, later));
}

}  // namespace
}  // namespace ferrule::bench
