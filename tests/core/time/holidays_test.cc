#include "core/time/holidays.h"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <string>

#include "core/time/civil.h"
#include "tests/core/time/published_calendar.h"

namespace ferrule::time {
namespace {

using ::testing::Contains;
using ::testing::ElementsAreArray;
using ::testing::Not;

std::vector<std::string> Kept(int year) {
  std::vector<std::string> days;
  for (const FederalHoliday& holiday : FederalHolidays(year)) {
    EXPECT_FALSE(holiday.name.empty());
    days.push_back(FormatDay(holiday.day));
  }
  return days;
}

TEST(FederalHolidays, PublishedLists) {
  for (const testing::DaysOffOfYear& year : testing::kPublishedDaysOff) {
    EXPECT_THAT(Kept(year.year), ElementsAreArray(year.days)) << year.year;
  }
}

TEST(FederalHolidays, HardCases) {
  for (const testing::DaysOffOfYear& year : testing::kHardDaysOff) {
    for (const char* day : year.days) EXPECT_THAT(Kept(year.year), Contains(day));
  }
  EXPECT_THAT(Kept(2022), Not(Contains("2022-01-01")));
}

}  // namespace
}  // namespace ferrule::time
