// Tests core/promise/open_days.cc.
#include "core/promise/open_days.h"

#include <gtest/gtest.h>

namespace ferrule::promise {
namespace {

constexpr int64_t kMonday = 4;  // 1970-01-05

TEST(OpenDays, WeekdaysAreThoseOfTheCalendar) {
  EXPECT_EQ(WeekdayOf(0), 3) << "1970-01-01 was a Thursday";
  EXPECT_EQ(WeekdayOf(kMonday), 0);
  EXPECT_EQ(WeekdayOf(-1), 2);
  EXPECT_EQ(WeekdayOf(20'783), 3) << "2026-11-26 is a Thursday";
}

TEST(OpenDays, AreMondayToFridayUntilMoreIsKnown) {
  const OpenDays days;
  EXPECT_TRUE(days.IsOpen(kMonday + 4));
  EXPECT_FALSE(days.IsOpen(kMonday + 5));
  EXPECT_FALSE(days.IsOpen(kMonday + 6));
  EXPECT_EQ(days.Between(kMonday, kMonday), 0);
  EXPECT_EQ(days.Between(kMonday, kMonday + 7), 5);
  EXPECT_EQ(days.Between(kMonday + 4, kMonday + 7), 1);
  EXPECT_EQ(days.Between(kMonday + 7, kMonday), 0);
  EXPECT_EQ(days.NextAfter(kMonday + 4), kMonday + 7);
}

TEST(OpenDays, AreLearnedFromWhatWasDone) {
  std::vector<int64_t> done;
  for (int64_t day = kMonday; day < kMonday + 100; ++day) {
    if (WeekdayOf(day) != 6 && WeekdayOf(day) != 2) done.push_back(day);
  }
  done.push_back(kMonday + 6);  // one Sunday is an exception
  const OpenDays days(done, {});
  EXPECT_TRUE(days.IsOpen(kMonday + 5));
  EXPECT_FALSE(days.IsOpen(kMonday + 6));
  EXPECT_FALSE(days.IsOpen(kMonday + 2));
  EXPECT_EQ(days.Between(kMonday - 1, kMonday + 699), 500);
}

TEST(OpenDays, LeaveOutDaysOff) {
  const OpenDays days({}, {kMonday + 1, kMonday + 5});
  EXPECT_FALSE(days.IsOpen(kMonday + 1));
  EXPECT_EQ(days.Between(kMonday - 1, kMonday + 6), 4) << "a Saturday off is closed once";
  EXPECT_EQ(days.Between(kMonday + 1, kMonday + 6), 3);
  EXPECT_EQ(days.NextAfter(kMonday), kMonday + 2);
}

}  // namespace
}  // namespace ferrule::promise
