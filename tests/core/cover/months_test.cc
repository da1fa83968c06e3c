#include "core/cover/months.h"

#include <gtest/gtest.h>

#include <string>

#include "core/time/civil.h"

namespace ferrule::cover {
namespace {

absl::CivilDay Day(const char* text) { return time::ParseDay(text).value(); }

// The anniversary must be stated: both rules, always counted from the first day (Gregorian
// calendar, ISO 8601-1:2019).
TEST(Months, BeginOnTheSameDayOrByTheRule) {
  struct Case {
    const char* first;
    int k;
    const char* last_day;
    const char* first_of_next;
  };
  const Case kCases[] = {
      {"2025-01-31", 0, "2025-01-31", "2025-01-31"},
      {"2025-01-31", 1, "2025-02-28", "2025-03-01"},
      {"2025-01-31", 2, "2025-03-31", "2025-03-31"},
      {"2024-01-31", 1, "2024-02-29", "2024-03-01"},
      {"2024-02-29", 12, "2025-02-28", "2025-03-01"},
      {"2024-02-29", 48, "2028-02-29", "2028-02-29"},
      {"2025-12-15", 1, "2026-01-15", "2026-01-15"},
      {"2025-03-31", 1, "2025-04-30", "2025-05-01"},
  };
  for (const Case& c : kCases) {
    EXPECT_EQ(MonthBegin(Day(c.first), c.k, v1::MONTH_RULE_LAST_DAY), Day(c.last_day)) << c.first;
    EXPECT_EQ(MonthBegin(Day(c.first), c.k, v1::MONTH_RULE_FIRST_OF_NEXT), Day(c.first_of_next))
        << c.first;
  }
}

TEST(Months, WithoutUseAreNotListed) {
  const std::vector<Month> months = MonthsOf(
      {Day("2025-01-10"), Day("2025-01-11"), Day("2025-03-12")}, 60, v1::MONTH_RULE_LAST_DAY);
  ASSERT_EQ(months.size(), 2u);
  EXPECT_EQ(months[1].period, 1);
  EXPECT_EQ(months[1].number, 2);
  EXPECT_EQ(months[1].from, Day("2025-03-10"));
  EXPECT_EQ(months[1].end, Day("2025-04-10"));
}

TEST(Months, UseOnTheNextDayIsNoInterruption) {
  const std::vector<Month> months =
      MonthsOf({Day("2025-01-30"), Day("2025-02-27"), Day("2025-02-28"), Day("2025-03-01"),
                Day("2025-04-02")},
               0, v1::MONTH_RULE_LAST_DAY);
  ASSERT_EQ(months.size(), 3u);
  EXPECT_EQ(months[1].period, 1);  // from 27 to 28 February
  EXPECT_EQ(months[2].period, 2);  // from 1 March to 2 April
  EXPECT_EQ(months[2].from, Day("2025-04-02"));
}

TEST(Months, OfAFewDaysAreOneMonth) {
  EXPECT_TRUE(MonthsOf({}, 60, v1::MONTH_RULE_LAST_DAY).empty());
  const std::vector<Month> months =
      MonthsOf({Day("2025-01-31"), Day("2025-02-27")}, 60, v1::MONTH_RULE_LAST_DAY);
  ASSERT_EQ(months.size(), 1u);
  EXPECT_EQ(months[0].used.size(), 2u);
  EXPECT_EQ(MonthsOf({Day("2025-01-31"), Day("2025-02-28")}, 60, v1::MONTH_RULE_LAST_DAY).size(),
            2u);
}

}  // namespace
}  // namespace ferrule::cover
