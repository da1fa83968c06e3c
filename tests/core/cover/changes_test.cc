#include "core/cover/changes.h"

#include <gtest/gtest.h>

#include "core/time/civil.h"
#include "tests/core/cover/spec.h"

namespace ferrule::cover {
namespace {

v1::DayLedger Ledger(const std::string& more) {
  return testing::CountRental(
             testing::RentalOf("zone=Europe/Berlin leg=K-1/2026-05-04T12:00/2026-05-20T12:00 "
                               "reading=hand-over:1:10 " +
                               more),
             "2026-06-30")
      .ledgers(0);
}

absl::CivilDay May(int day) { return absl::CivilDay(2026, 5, day); }

TEST(Changes, AreTheDaysOfTheSpanThatDiffer) {
  const v1::DayLedger then = Ledger("");
  const v1::DayLedger now = Ledger(
      "stay=home:2026-05-04T09:00 stay=hospital:2026-05-08T09:00 "
      "stay=home:2026-05-10T09:00");
  const auto days = ChangedDays(then, now, May(4), May(31));
  ASSERT_EQ(days.size(), 2u);
  EXPECT_EQ(time::ToDay(days[0].date()), May(8));
  EXPECT_EQ(days[0].state_then(), v1::DAY_STATE_COVERED);
  EXPECT_EQ(days[0].state_now(), v1::DAY_STATE_AWAY);
  EXPECT_EQ(ChangedDays(then, now, May(9), May(9)).size(), 1u);
  EXPECT_TRUE(ChangedDays(then, then, May(1), May(31)).empty());
}

TEST(Changes, DayThatIsGoneIsUnspecifiedNow) {
  v1::DayLedger now = Ledger("");
  now.mutable_days()->RemoveLast();
  const auto days = ChangedDays(Ledger(""), now, May(1), May(31));
  ASSERT_EQ(days.size(), 1u);
  EXPECT_EQ(days[0].state_now(), v1::DAY_STATE_UNSPECIFIED);
}

TEST(Changes, UnitsAreThoseOfTheSpan) {
  EXPECT_EQ(UnitsWithin(Ledger(""), May(1), May(31)), 10);
  EXPECT_EQ(UnitsWithin(Ledger(""), May(6), May(7)), 2);
  EXPECT_EQ(UnitsWithin(Ledger("monthly=1"), May(1), May(31)), 1);
  EXPECT_EQ(UnitsWithin(Ledger("monthly=1"), May(5), May(31)), 0);
}

}  // namespace
}  // namespace ferrule::cover
