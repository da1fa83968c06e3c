#include "core/cover/day_ledger.h"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <string>

#include "core/time/civil.h"
#include "tests/core/cover/spec.h"

namespace ferrule::cover {
namespace {

using testing::CountRental;
using testing::RentalOf;

// A knee in Berlin: operated on Monday 2026-05-04, home and set up on the 6th, picked up on the
// 31st, 21 days from the operation, prescribed for 28 days.
constexpr char kKnee[] =
    "zone=Europe/Berlin surgery=2026-05-04 use=started:2026-05-05T10:00 stay=home:2026-05-06T11:00 "
    "leg=K-1/2026-05-06T12:00/2026-05-31T12:00 reading=surgery:1:21 amount=1000 lon=28 ";

v1::DayLedger Count(const std::string& more, const std::string& through = "2026-06-30") {
  return CountRental(RentalOf(kKnee + more), through).ledgers(0);
}

// The state and reason of one day, "COVERED WITHIN_COVER".
std::string On(const v1::DayLedger& ledger, const char* day) {
  const absl::CivilDay wanted = time::ParseDay(day).value();
  for (const v1::LedgerDay& d : ledger.days()) {
    if (time::ToDay(d.date()) != wanted) continue;
    return v1::DayState_Name(d.state()).substr(10) + " " +
           v1::DayReason_Name(d.reason()).substr(11);
  }
  return "no such day";
}

TEST(DayLedger, SumsMatch) {
  const v1::DayLedger ledger = Count(
      "stay=hospital:2026-05-12T09:00 stay=home:2026-05-14T09:00 "
      "use=stopped:2026-05-28T20:00");
  EXPECT_EQ(ledger.touched_count(), 26);
  EXPECT_EQ(ledger.covered_count() + ledger.not_covered_count() + ledger.away_count() +
                ledger.idle_count(),
            ledger.touched_count());
  EXPECT_EQ(ledger.covered_count(), 17);
  EXPECT_EQ(ledger.away_count(), 2);
  EXPECT_EQ(ledger.idle_count(), 3);
  EXPECT_EQ(ledger.amount_minor(), 17'000);
}

TEST(DayLedger, EveryReasonHasADay) {
  EXPECT_EQ(On(Count(""), "2026-05-06"), "COVERED WITHIN_COVER");
  EXPECT_EQ(On(Count(""), "2026-05-24"), "COVERED WITHIN_COVER");
  EXPECT_EQ(On(Count(""), "2026-05-25"), "NOT_COVERED AFTER_COVER");
  EXPECT_EQ(On(Count("stop=2026-05-15"), "2026-05-15"), "COVERED WITHIN_COVER");
  EXPECT_EQ(On(Count("stop=2026-05-15"), "2026-05-16"), "NOT_COVERED AFTER_STOP");
  EXPECT_EQ(On(Count("stop=2026-05-15 extension=2026-05-18:2026-06-30"), "2026-05-16"),
            "NOT_COVERED HOLE");
  EXPECT_EQ(On(Count("stop=2026-05-15 extension=2026-05-18:2026-06-30"), "2026-05-18"),
            "COVERED WITHIN_COVER");
  EXPECT_EQ(On(Count("use=stopped:2026-05-28T20:00"), "2026-05-29"), "IDLE AFTER_USE");
  EXPECT_EQ(On(Count("cancelled=1"), "2026-05-10"), "NOT_COVERED CANCELLED");
  EXPECT_EQ(On(Count("payer=none"), "2026-05-10"), "NOT_COVERED NO_TERMS");
  EXPECT_EQ(On(Count("not_covered=1"), "2026-05-10"), "NOT_COVERED NOT_PAID_FOR");
  EXPECT_EQ(On(Count("needs_auth=1"), "2026-05-10"), "NOT_COVERED NOT_AUTHORISED");
  EXPECT_EQ(On(Count("stay=facility:2026-05-10T09:00"), "2026-05-10"), "AWAY IN_FACILITY");
  EXPECT_EQ(On(Count("stay=died:2026-05-10T09:00"), "2026-05-10"), "COVERED WITHIN_COVER");
  EXPECT_EQ(On(Count("stay=died:2026-05-10T09:00"), "2026-05-11"), "IDLE AFTER_DEATH");
}

TEST(DayLedger, DaysBeforeUseAreIdle) {
  const auto ledger = [](const std::string& line) {
    return CountRental(RentalOf("zone=Europe/Berlin leg=K-1/2026-05-01T12:00/2026-05-20T12:00 "
                                "reading=surgery:1:21 " +
                                line),
                       "2026-06-30")
        .ledgers(0);
  };
  const std::string moved = "surgery=2026-05-06 planned=2026-05-08 use=started:2026-05-09T10:00";
  EXPECT_EQ(On(ledger(moved), "2026-05-05"), "IDLE BEFORE_SURGERY");
  EXPECT_EQ(On(ledger(moved), "2026-05-07"), "IDLE BEFORE_DISCHARGE");
  EXPECT_EQ(On(ledger(moved), "2026-05-08"), "IDLE BEFORE_USE");
  EXPECT_EQ(On(ledger(moved), "2026-05-09"), "COVERED WITHIN_COVER");
  EXPECT_EQ(On(ledger(""), "2026-05-05"), "NOT_COVERED ANCHOR_MISSING");
}

TEST(DayLedger, AuthorisationsAreUsedUpOneAfterTheOther) {
  const v1::DayLedger ledger =
      Count("needs_auth=1 auth=2026-05-06:2026-05-31:5 auth=2026-05-10:2026-05-12:0");
  EXPECT_EQ(On(ledger, "2026-05-10"), "COVERED WITHIN_COVER");  // the fifth
  EXPECT_EQ(On(ledger, "2026-05-11"), "COVERED WITHIN_COVER");  // of the second
  EXPECT_EQ(On(ledger, "2026-05-13"), "NOT_COVERED UNITS_USED_UP");
  EXPECT_EQ(ledger.covered_count(), 7);
}

TEST(DayLedger, ADayHasThePayerThatAnswersForIt) {
  const v1::GetDayLedgerResponse days = CountRental(
      RentalOf(std::string(kKnee) + "other=2026-05-20 reading=surgery:0:30"), "2026-06-30");
  ASSERT_EQ(days.ledgers_size(), 2);
  EXPECT_EQ(days.ledgers(1).days(13).payer(), "payer");  // 2026-05-19
  EXPECT_EQ(days.ledgers(1).days(14).payer(), "other");
  // The other payer has one reading only, which ends on the 24th.
  EXPECT_EQ(On(days.ledgers(1), "2026-05-25"), "NOT_COVERED AFTER_COVER");
}

TEST(DayLedger, MonthlyTermsTakeOneUnitOfAnAuthorisationAMonth) {
  const v1::DayLedger ledger =
      CountRental(RentalOf("zone=Europe/Berlin leg=B-1/2026-01-15T12:00/2026-04-20T12:00 monthly=1 "
                           "reading=hand-over:1:0 needs_auth=1 auth=2026-01-01:2026-12-31:2"),
                  "2026-06-30")
          .ledgers(0);
  EXPECT_EQ(ledger.months_size(), 4);
  EXPECT_EQ(ledger.billable_count(), 2);
  EXPECT_EQ(On(ledger, "2026-03-14"), "COVERED WITHIN_COVER");
  EXPECT_EQ(On(ledger, "2026-03-15"), "NOT_COVERED UNITS_USED_UP");
}

TEST(DayLedger, OfAnOrderWithoutARentalIsEmpty) {
  const v1::GetDayLedgerResponse days =
      CountRental(RentalOf("zone=Europe/Berlin reading=surgery:1:21"), "2026-06-30");
  ASSERT_EQ(days.ledgers_size(), 1);
  EXPECT_TRUE(days.ledgers(0).days().empty());
  EXPECT_FALSE(days.open());
}

}  // namespace
}  // namespace ferrule::cover
