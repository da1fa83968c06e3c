#include "core/label/date.h"

#include "gtest/gtest.h"

namespace ferrule::label {
namespace {

struct Year {
  int now;
  int digits;
  int year;
};
class TwoDigits : public ::testing::TestWithParam<Year> {};
TEST_P(TwoDigits, MeanTheNearestCentury) {
  EXPECT_EQ(FullYear(GetParam().digits, GetParam().now), GetParam().year);
}
// Computed with the rule of gs1-syntax-dictionary, src/lint_yymmd0.c.
INSTANTIATE_TEST_SUITE_P(Published, TwoDigits,
                         ::testing::Values(Year{2026, 14, 2014}, Year{2026, 25, 2025},
                                           Year{2026, 51, 2051}, Year{2026, 76, 2076},
                                           Year{2026, 77, 1977}, Year{2026, 99, 1999},
                                           Year{2051, 0, 2100}, Year{2051, 1, 2101},
                                           Year{2051, 2, 2002}, Year{2051, 99, 2099}));

// Cases of lint_yymmd0.c.
TEST(Yymmdd, IsADayOfTheCalendar) {
  for (const char* wrong : {"250230", "200230", "210229", "251301", "200010", "25010", "25010A"}) {
    EXPECT_FALSE(ReadYymmdd(wrong, 2026, true).has_value()) << wrong;
  }
  for (const char* right : {"240229", "000229", "960229"}) {
    const auto date = ReadYymmdd(right, 2026, true);
    ASSERT_TRUE(date.has_value()) << right;
    EXPECT_EQ(date->day.day(), 29);
    EXPECT_FALSE(date->whole_month);
  }
}

// Day 00 passes in the dictionary; that it means the month's last day is python3-stdnum's reading.
TEST(Yymmdd, WithoutADayIsTheLastOfTheMonth) {
  const auto february = ReadYymmdd("250200", 2026, true);
  ASSERT_TRUE(february.has_value());
  EXPECT_EQ(february->day, absl::CivilDay(2025, 2, 28));
  EXPECT_TRUE(february->whole_month);
  EXPECT_EQ(ReadYymmdd("231200", 2026, true)->day, absl::CivilDay(2023, 12, 31));
  EXPECT_FALSE(ReadYymmdd("250200", 2026, false).has_value());
  EXPECT_FALSE(ReadYymmdd("251300", 2026, true).has_value());
}

TEST(DayOfYear, ExistsInItsYear) {
  EXPECT_EQ(DayOfYear(2024, 60), absl::CivilDay(2024, 2, 29));
  EXPECT_EQ(DayOfYear(2023, 365), absl::CivilDay(2023, 12, 31));
  EXPECT_EQ(DayOfYear(2023, 366), std::nullopt);
  EXPECT_EQ(DayOfYear(2023, 0), std::nullopt);
}

}  // namespace
}  // namespace ferrule::label
