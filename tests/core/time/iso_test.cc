#include "core/time/iso.h"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include "core/time/civil.h"
#include "tests/core/time/published_calendar.h"

namespace ferrule::time {
namespace {

// ISO 8601 week dates, recomputed with Python 3.11's isocalendar.
TEST(WeekDates, OfTheTurnsOfTheYears) {
  for (const auto& [day, week] : testing::kWeekDates) {
    EXPECT_EQ(FormatWeekDate(ParseDay(day).value()), week);
    EXPECT_EQ(FormatDay(ParseWeekDate(week).value()), day);
    EXPECT_EQ(FormatDay(ParseDay(week).value()), day);
  }
}

TEST(WeekDates, YearsOf53Weeks) {
  std::vector<int> years;
  for (int year = 2000; year <= 2050; ++year) {
    if (WeeksInYear(year) == 53) years.push_back(year);
  }
  EXPECT_THAT(years, ::testing::ElementsAre(2004, 2009, 2015, 2020, 2026, 2032, 2037, 2043, 2048));
}

TEST(WeekDates, ThatAreNoneAreRefused) {
  for (const char* text : {"2025-W53-1", "2026-W00-1", "2026-W01-0", "2026-W01-8", "2026-W1-1",
                           "2026W011", "2026-w01-1", "", "0000-W01-1"}) {
    EXPECT_FALSE(ParseWeekDate(text).ok()) << text;
  }
}

// ISO 8601 durations (forms from memory).
TEST(Durations, KeepMonthsDaysAndSecondsApart) {
  struct Case {
    const char* text;
    int months;
    int days;
    int64_t seconds;
  };
  for (const Case& c :
       {Case{"P21D", 0, 21, 0}, Case{"P3W", 0, 21, 0}, Case{"PT4H30M", 0, 0, 4 * 3600 + 1800},
        Case{"P1M", 1, 0, 0}, Case{"P1Y2M3DT4H5M6S", 14, 3, 4 * 3600 + 5 * 60 + 6},
        Case{"PT36H", 0, 0, 36 * 3600}, Case{"P0D", 0, 0, 0}}) {
    const auto found = ParseDuration(c.text);
    ASSERT_TRUE(found.ok()) << c.text;
    EXPECT_EQ(found->months, c.months) << c.text;
    EXPECT_EQ(found->days, c.days) << c.text;
    EXPECT_EQ(found->seconds, c.seconds) << c.text;
  }
  for (const char* text : {"P", "PT", "", "21D", "P21", "PD", "P1W2D", "P2D1M", "PT1D", "P1H",
                           "P-1D", "P1.5D", "P99999999D", "P1DT"}) {
    EXPECT_FALSE(ParseDuration(text).ok()) << text;
  }
}

}  // namespace
}  // namespace ferrule::time
