// Tests core/cover/day_ledger.cc against published examples and rules of payers and of the
// calendar. Each has its source beside it; nothing here says what a payer will do.
#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <string>

#include "core/order/terms.h"
#include "core/time/civil.h"
#include "tests/core/cover/spec.h"

namespace ferrule::cover {
namespace {

using testing::CountRental;
using testing::RentalOf;

std::string Day(const google::type::Date& date) {
  return time::IsValid(date) ? time::FormatDay(time::ToDay(date)) : "none";
}

// "covered/not covered, through DAY".
std::string Sums(const v1::DayLedger& ledger) {
  return std::to_string(ledger.covered_count()) + "/" + std::to_string(ledger.not_covered_count()) +
         ", through " + Day(ledger.cover_through_date());
}

// National Government Services, education page "Continuous Passive Motion Devices" (2009 dates):
// surgery 2009-06-01, applied 06-02, home 06-05, used to 06-29: 25 days billed, last covered day
// 06-22, 18 covered, 7 denied. The other two readings of the same rule are computed, not published:
// "Surgery date is day 1" (Noridian JA CPM page, 2019-05-20), and the discharge as the first day
// (Pub. 100-04 ch. 20 s. 30.2.1 as quoted in the joint publication of 2022-07-08).
constexpr char kExample[] =
    "zone=America/New_York surgery=2009-06-01 use=started:2009-06-02T16:00 "
    "stay=home:2009-06-05T11:00 "
    "use=stopped:2009-06-29T20:00 leg=K-1/2009-06-05T12:00/2009-06-29T21:00 home_only=1 "
    "amount=2500 "
    "reading=surgery:0:21:surgery:days:2 reading=surgery:1:21:surgery:days:2 "
    "reading=discharge:1:21:surgery:days:2";

TEST(PublishedCover, WorkedExampleByTheThreeReadings) {
  const v1::GetDayLedgerResponse days = CountRental(RentalOf(kExample), "2009-07-10");
  ASSERT_EQ(days.ledgers_size(), 3);
  EXPECT_EQ(days.ledgers(0).covered_count() + days.ledgers(0).not_covered_count(), 25);
  EXPECT_EQ(Sums(days.ledgers(0)), "18/7, through 2009-06-22");
  EXPECT_EQ(Sums(days.ledgers(1)), "17/8, through 2009-06-21");
  EXPECT_EQ(Sums(days.ledgers(2)), "21/4, through 2009-06-25");
  EXPECT_EQ(Day(days.ledgers(0).service_date()), "2009-06-05");
  EXPECT_EQ(days.ledgers(0).amount_minor(), 18 * 2500);
  ASSERT_EQ(days.differences_size(), 4);
  EXPECT_EQ(Day(days.differences(0).date()), "2009-06-22");
  EXPECT_EQ(days.differences(0).states(0), v1::DAY_STATE_COVERED);
  EXPECT_EQ(days.differences(0).states(1), v1::DAY_STATE_NOT_COVERED);
  EXPECT_EQ(Day(days.differences(3).date()), "2009-06-25");
}

// "within 2 days following surgery" (NCD 280.1 as quoted) against "within 48 hours" (CGS,
// 2024-02-14): surgery 2025-05-05 14:00, applied 2025-05-07 16:00 is a difference of 2 days and 50
// hours.
TEST(PublishedCover, TwoDaysAreNot48Hours) {
  const testing::Rental rental = RentalOf(
      "zone=America/Chicago surgery=2025-05-05 surgery_at=2025-05-05T14:00 planned=2025-05-07 "
      "use=started:2025-05-07T16:00 leg=K-1/2025-05-07T15:00/2025-05-28T10:00 "
      "reading=surgery:0:21:surgery:days:2 reading=surgery:0:21:surgery:hours:48 "
      "reading=surgery:0:21:surgery:hours:50 reading=surgery:0:21:surgery:days:1");
  const v1::GetDayLedgerResponse days = CountRental(rental, "2025-06-01");
  EXPECT_GT(days.ledgers(0).covered_count(), 0);
  EXPECT_EQ(days.ledgers(1).covered_count(), 0);
  EXPECT_EQ(days.ledgers(1).days(0).reason(), v1::DAY_REASON_STARTED_LATE);
  EXPECT_GT(days.ledgers(2).covered_count(), 0);
  EXPECT_EQ(days.ledgers(3).covered_count(), 0);
}

// Over the change of the clocks in New York on 2025-03-09 (IANA tz database) 48 hours end an hour
// later on the wall.
TEST(PublishedCover, HoursAreElapsedOnes) {
  const std::string before =
      "zone=America/New_York surgery=2025-03-08 surgery_at=2025-03-08T14:00 "
      "leg=K-1/2025-03-10T12:00/2025-03-20T10:00 reading=surgery:0:21:surgery:hours:48 ";
  EXPECT_GT(CountRental(RentalOf(before + "use=started:2025-03-10T15:00"), "2025-04-01")
                .ledgers(0)
                .covered_count(),
            0);
  EXPECT_EQ(CountRental(RentalOf(before + "use=started:2025-03-10T15:01"), "2025-04-01")
                .ledgers(0)
                .covered_count(),
            0);
}

// A commercial policy of March 2022 counts 17 days from the discharge (Blue Cross policy MP-242 as
// read): discharge 2009-06-05 gives 06-21 with the discharge as day 1 and 06-22 as day 0.
TEST(PublishedCover, SeventeenDaysFromTheDischarge) {
  const v1::GetDayLedgerResponse days =
      CountRental(RentalOf("zone=America/New_York surgery=2009-06-01 stay=home:2009-06-05T11:00 "
                           "leg=K-1/2009-06-05T12:00/2009-07-05T12:00 reading=discharge:1:17 "
                           "reading=discharge:0:17 reading=discharge:1:42 reading=surgery:0:17"),
                  "2009-07-10");
  EXPECT_EQ(Day(days.ledgers(0).cover_through_date()), "2009-06-21");
  EXPECT_EQ(Day(days.ledgers(1).cover_through_date()), "2009-06-22");
  // The same policy's 6 weeks for a cartilage repair, and its March 2024 text, 17 days after
  // surgery.
  EXPECT_EQ(Day(days.ledgers(2).cover_through_date()), "2009-07-16");
  EXPECT_EQ(Day(days.ledgers(3).cover_through_date()), "2009-06-18");
}

// A TRICARE policy manual (6010.60-M ch. 8 s. 18.1 as read): hospital and home together at most 3
// weeks. Days in the hospital eat the 21 and are not paid.
TEST(PublishedCover, HospitalDaysEatTheCover) {
  const std::string base =
      "zone=America/New_York surgery=2026-03-02 use=started:2026-03-03T09:00 "
      "stay=home:2026-03-05T11:00 stay=hospital:2026-03-10T08:00 stay=home:2026-03-13T15:00 "
      "leg=K-1/2026-03-05T12:00/2026-03-31T12:00 reading=surgery:1:21:surgery:days:2 ";
  const v1::DayLedger runs_on = CountRental(RentalOf(base), "2026-04-10").ledgers(0);
  EXPECT_EQ(Sums(runs_on), "15/9, through 2026-03-22");
  EXPECT_EQ(runs_on.away_count(), 3);  // the day of the discharge is a day at home
  const v1::DayLedger stops = CountRental(RentalOf(base + "away=stop"), "2026-04-10").ledgers(0);
  EXPECT_EQ(Sums(stops), "18/6, through 2026-03-25");
  EXPECT_EQ(stops.away_count(), 3);
  const v1::DayLedger paid = CountRental(RentalOf(base + "away=paid"), "2026-04-10").ledgers(0);
  EXPECT_EQ(paid.covered_count(), 18);
  const v1::DayLedger leaving =
      CountRental(RentalOf(base + "admission=1"), "2026-04-10").ledgers(0);
  EXPECT_EQ(leaving.away_count(), 2);
}

// Delivery for fitting and teaching before the discharge: the service date is that of the
// discharge, also when it slips (Noridian page on inpatient stays, as read).
TEST(PublishedCover, ServiceBeginsWithTheDischargeAsItWas) {
  const v1::DayLedger ledger =
      CountRental(RentalOf("zone=America/New_York surgery=2009-06-01 planned=2009-06-05 "
                           "stay=home:2009-06-08T10:00 leg=K-1/2009-06-03T15:00/2009-06-20T10:00 "
                           "reading=surgery:0:21"),
                  "2009-06-30")
          .ledgers(0);
  EXPECT_EQ(Day(ledger.service_date()), "2009-06-08");
  EXPECT_EQ(ledger.idle_count(), 5);
  EXPECT_EQ(ledger.days(0).reason(), v1::DAY_REASON_BEFORE_DISCHARGE);
}

// Computed with the IANA tz database: hours divided by 24 would give 20 days, the dates give 21.
TEST(PublishedCalendar, ClockChangesTakeNoDayAway) {
  const v1::DayLedger spring =
      CountRental(RentalOf("zone=America/New_York leg=K-1/2025-03-01T12:00/2025-03-22T12:00 "
                           "reading=hand-over:0:21"),
                  "2025-04-01")
          .ledgers(0);
  EXPECT_EQ(spring.custody_s(), 503 * 3600);
  EXPECT_EQ(spring.touched_count(), 22);
  EXPECT_EQ(Day(spring.cover_through_date()), "2025-03-22");  // 21 days after 1 March
  EXPECT_EQ(spring.custody_day_thousandths(), 21'000);

  const v1::DayLedger weekend =
      CountRental(RentalOf("zone=America/New_York leg=K-1/2025-03-08T17:00/2025-03-10T09:00 "
                           "reading=hand-over:0:21"),
                  "2025-04-01")
          .ledgers(0);
  EXPECT_EQ(weekend.custody_s(), 39 * 3600);
  EXPECT_EQ(weekend.touched_count(), 3);
  EXPECT_EQ(weekend.days(1).length_s(), 23 * 3600);
  EXPECT_EQ(weekend.days(1).custody_s(), 23 * 3600);

  const v1::DayLedger autumn =
      CountRental(RentalOf("zone=America/New_York leg=K-1/2025-11-01T17:00/2025-11-03T09:00 "
                           "reading=hand-over:0:21"),
                  "2025-12-01")
          .ledgers(0);
  EXPECT_EQ(autumn.custody_s(), 41 * 3600);
  EXPECT_EQ(autumn.days(1).length_s(), 25 * 3600);
}

// 2025-06-30 20:30 in Los Angeles is 2025-07-01 03:30 UTC (IANA tz database): 30 June is billed.
TEST(PublishedCalendar, ServiceDateIsThePatientsLocalDate) {
  const v1::DayLedger ledger =
      CountRental(
          RentalOf("zone=America/Los_Angeles leg=K-1/2025-07-01T03:30:00Z/2025-07-05T20:00:00Z "
                   "reading=hand-over:1:21"),
          "2025-07-10")
          .ledgers(0);
  EXPECT_EQ(Day(ledger.service_date()), "2025-06-30");
  EXPECT_EQ(ledger.covered_count(), 6);
}

// Gregorian calendar (ISO 8601-1:2019): 20 days on from 10 February, with and without a leap day.
TEST(PublishedCalendar, LeapDayIsADayOfCover) {
  for (const auto& [year, last] :
       {std::pair("2024", "2024-03-01"), std::pair("2023", "2023-03-02")}) {
    const std::string line = std::string("zone=America/New_York surgery=") + year +
                             "-02-10 leg=K-1/" + year + "-02-12T12:00/" + year +
                             "-03-20T12:00 reading=surgery:1:21";
    EXPECT_EQ(Day(CountRental(RentalOf(line), std::string(year) + "-04-01")
                      .ledgers(0)
                      .cover_through_date()),
              last);
  }
}

// A set-up at 18:00 and a pick-up at 08:00 the next but one morning: three days touched, 38 hours
// in the home, and as many billable days as the terms say.
TEST(PublishedCalendar, PartialDaysHaveThreeCounters) {
  const std::string line =
      "zone=Europe/Berlin leg=K-1/2026-05-04T18:00/2026-05-06T08:00 reading=hand-over:1:21 ";
  const v1::DayLedger every = CountRental(RentalOf(line), "2026-05-10").ledgers(0);
  EXPECT_EQ(every.touched_count(), 3);
  EXPECT_EQ(every.billable_count(), 3);
  EXPECT_EQ(every.custody_s(), 38 * 3600);
  EXPECT_EQ(every.custody_day_thousandths(), 1583);  // 0.25 + 1 + 0.333
  const v1::DayLedger but_last =
      CountRental(RentalOf(line + "last_day=1"), "2026-05-10").ledgers(0);
  EXPECT_EQ(but_last.billable_count(), 2);
  EXPECT_EQ(but_last.days(2).reason(), v1::DAY_REASON_LAST_DAY);
}

// Working days leave out weekends and the federal holidays of the settings (5 U.S.C. 6103; the 2023
// list as published by the courts: 2023-11-10 is kept for Saturday the 11th).
TEST(PublishedCalendar, WorkingDaysLeaveOutHolidays) {
  const std::string line =
      "zone=America/New_York surgery=2023-11-09 leg=K-1/2023-11-12T12:00/2023-11-30T12:00 "
      "use=started:2023-11-14T12:00 reading=surgery:0:21:surgery:working:2 "
      "reading=surgery:0:21:surgery:days:2 ";
  EXPECT_GT(
      CountRental(RentalOf(line + "holiday=2023-11-10"), "2023-12-01").ledgers(0).covered_count(),
      0);
  const v1::GetDayLedgerResponse without = CountRental(RentalOf(line), "2023-12-01");
  EXPECT_EQ(without.ledgers(0).covered_count(), 0);  // the 10th, the 13th and the 14th
  EXPECT_EQ(without.ledgers(1).covered_count(), 0);
}

// 42 CFR 414.230: at most 60 consecutive days beside the days left in the rental month. Computed:
// rental month from the 15th, use ceases on 2025-03-20, 25 days are left, 85 in all.
TEST(PublishedMonths, InterruptionOfSixtyDaysAndTheRestOfTheMonth) {
  const std::string line =
      "zone=America/New_York leg=B-1/2025-03-15T10:00/ use=started:2025-03-15T10:00 "
      "use=stopped:2025-03-20T18:00 monthly=1 interruption=60 amount=10000 reading=hand-over:1:0 ";
  const v1::DayLedger same =
      CountRental(RentalOf(line + "use=started:2025-06-13T09:00"), "2025-06-20").ledgers(0);
  ASSERT_EQ(same.months_size(), 3);
  EXPECT_EQ(same.months(1).period(), 1);
  EXPECT_EQ(Day(same.months(1).from_date()), "2025-05-15");
  const v1::DayLedger other =
      CountRental(RentalOf(line + "use=started:2025-06-14T09:00"), "2025-06-20").ledgers(0);
  ASSERT_EQ(other.months_size(), 2);
  EXPECT_EQ(other.months(1).period(), 2);
  EXPECT_EQ(Day(other.months(1).from_date()), "2025-06-14");
  EXPECT_EQ(other.amount_minor(), 20'000);
}

// 42 CFR 414.229, thirteen months (from memory).
TEST(PublishedMonths, CapOfThirteenMonths) {
  const v1::DayLedger ledger =
      CountRental(RentalOf("zone=America/New_York leg=B-1/2024-01-31T10:00/2025-05-01T10:00 "
                           "monthly=1 most_months=13 reading=hand-over:1:0"),
                  "2025-05-01")
          .ledgers(0);
  EXPECT_EQ(ledger.months_size(), 16);
  EXPECT_EQ(ledger.billable_count(), 13);
  EXPECT_TRUE(ledger.months(12).covered());
  EXPECT_FALSE(ledger.months(13).covered());
  EXPECT_EQ(Day(ledger.months(13).from_date()), "2025-02-28");
  EXPECT_EQ(ledger.days(ledger.days_size() - 1).reason(), v1::DAY_REASON_UNITS_USED_UP);
}

}  // namespace
}  // namespace ferrule::cover
