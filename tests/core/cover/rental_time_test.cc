#include "core/cover/rental_time.h"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include "core/time/civil.h"
#include "tests/core/cover/spec.h"

namespace ferrule::cover {
namespace {

using ::testing::ElementsAre;

std::vector<TouchedDay> Touched(const std::string& line, const char* through = "2030-01-01") {
  const testing::Rental rental = testing::RentalOf(line + " reading=hand-over:1:21");
  const absl::CivilDay day = time::ParseDay(through).value();
  return TouchedDays(rental.order, rental.zone,
                     {day, time::StartOfDayMicros(day + 1, rental.zone)});
}

TEST(RentalTime, DayOfAnExchangeHasBothUnitsAndIsCountedOnce) {
  const auto days = Touched(
      "zone=Europe/Berlin leg=K-1/2026-05-04T10:00/2026-05-05T12:00 "
      "leg=K-2/2026-05-05T12:00/2026-05-06T09:00");
  ASSERT_EQ(days.size(), 3u);
  EXPECT_THAT(days[1].units, ElementsAre("K-1", "K-2"));
  EXPECT_EQ(days[1].custody_us, days[1].length_us);
}

TEST(RentalTime, OverlappingLegsAreNoMoreThanTheDay) {
  const auto days = Touched(
      "zone=Europe/Berlin leg=K-1/2026-05-04T10:00/2026-05-05T12:00 "
      "leg=K-2/2026-05-04T08:00/2026-05-05T10:00");
  ASSERT_EQ(days.size(), 2u);
  EXPECT_EQ(days[0].custody_us, int64_t{16} * 3'600'000'000);
  EXPECT_EQ(days[1].custody_us, int64_t{12} * 3'600'000'000);
}

TEST(RentalTime, MidnightTouchesNoFurtherDay) {
  EXPECT_EQ(Touched("zone=Europe/Berlin leg=K-1/2026-05-04T10:00/2026-05-05T00:00").size(), 1u);
  EXPECT_EQ(Touched("zone=Europe/Berlin leg=K-1/2026-05-04T10:00/2026-05-05T00:01").size(), 2u);
  EXPECT_EQ(Touched("zone=Europe/Berlin leg=K-1/2026-05-05T00:00/2026-05-05T00:00").size(), 1u);
}

TEST(RentalTime, GapsBetweenLegsAreNoDaysOfTheRental) {
  EXPECT_EQ(Touched("zone=Europe/Berlin leg=K-1/2026-05-04T10:00/2026-05-04T12:00 "
                    "leg=K-2/2026-05-10T10:00/2026-05-10T12:00")
                .size(),
            2u);
}

TEST(RentalTime, OpenRentalRunsUntilTheDayAskedFor) {
  EXPECT_EQ(Touched("zone=Europe/Berlin leg=K-1/2026-05-04T10:00/", "2026-05-06").size(), 3u);
  EXPECT_TRUE(Touched("zone=Europe/Berlin leg=K-1/2026-05-04T10:00/", "2026-05-03").empty());
}

// Samoa left out 2011-12-30, and clocks in Brazil skipped midnight of 2018-11-04 (IANA tz
// database).
TEST(RentalTime, DaysThatTheCalendarOfAPlaceLeavesOutAreNone) {
  const auto days = Touched("zone=Pacific/Apia leg=K-1/2011-12-28T10:00/2012-01-01T10:00");
  ASSERT_EQ(days.size(), 4u);
  EXPECT_EQ(days[2].day, absl::CivilDay(2011, 12, 31));
  const auto brazil = Touched("zone=America/Sao_Paulo leg=K-1/2018-11-03T10:00/2018-11-05T10:00");
  ASSERT_EQ(brazil.size(), 3u);
  EXPECT_EQ(brazil[1].length_us, int64_t{23} * 3'600'000'000);
}

}  // namespace
}  // namespace ferrule::cover
