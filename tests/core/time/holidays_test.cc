#include "core/time/holidays.h"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <string>

#include "core/time/civil.h"

namespace ferrule::time {
namespace {

using ::testing::Contains;
using ::testing::ElementsAre;
using ::testing::Not;

std::vector<std::string> Kept(int year) {
  std::vector<std::string> days;
  for (const FederalHoliday& holiday : FederalHolidays(year)) {
    EXPECT_FALSE(holiday.name.empty());
    days.push_back(FormatDay(holiday.day));
  }
  return days;
}

// The lists of 2023 and 2024 as courts publish them (okwb.uscourts.gov, okep.uscourts.gov).
TEST(FederalHolidays, PublishedLists) {
  EXPECT_THAT(Kept(2023), ElementsAre("2023-01-02", "2023-01-16", "2023-02-20", "2023-05-29",
                                      "2023-06-19", "2023-07-04", "2023-09-04", "2023-10-09",
                                      "2023-11-10", "2023-11-23", "2023-12-25"));
  EXPECT_THAT(Kept(2024), ElementsAre("2024-01-01", "2024-01-15", "2024-02-19", "2024-05-27",
                                      "2024-06-19", "2024-07-04", "2024-09-02", "2024-10-14",
                                      "2024-11-11", "2024-11-28", "2024-12-25"));
}

// Computed by the rule of 5 U.S.C. 6103 and E.O. 11582: Saturday to Friday, Sunday to Monday, over
// the turn of the year, too.
TEST(FederalHolidays, HardCases) {
  for (const char* day : {"2021-06-18", "2021-07-05", "2021-12-24", "2021-12-31"}) {
    EXPECT_THAT(Kept(2021), Contains(day));
  }
  EXPECT_THAT(Kept(2022), Contains("2022-06-20"));
  EXPECT_THAT(Kept(2022), Contains("2022-12-26"));
  EXPECT_THAT(Kept(2022), Not(Contains("2022-01-01")));
  EXPECT_THAT(Kept(2023), Contains("2023-01-02"));
  EXPECT_THAT(Kept(2026), Contains("2026-07-03"));
  for (const char* day : {"2027-06-18", "2027-07-05", "2027-12-24", "2027-12-31"}) {
    EXPECT_THAT(Kept(2027), Contains(day));
  }
  EXPECT_THAT(Kept(2028), Contains("2028-11-10"));
}

}  // namespace
}  // namespace ferrule::time
