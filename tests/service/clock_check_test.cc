#include "service/clock_check.h"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <string>

namespace ferrule::service {
namespace {

using ::testing::HasSubstr;

constexpr int64_t kLast = 1'772'438'400'000'000;  // 2026-03-02T08:00:00Z
constexpr int64_t kHour = 3'600'000'000;
constexpr int64_t kDay = 24 * kHour;

TEST(ClockCheck, ADepotThatRestedOrAClockThatWasSetBackALittleIsServed) {
  for (const int64_t ahead : {int64_t{0}, kHour, 400 * kDay, 3 * 365 * kDay, -kHour, -kDay}) {
    EXPECT_TRUE(CheckClock(kLast + ahead, kLast).ok()) << ahead;
  }
}

TEST(ClockCheck, AClockDaysBehindOrYearsAheadIsRefusedWithBothTimes) {
  for (const int64_t ahead : {-kDay - 1, -kLast, 3 * 365 * kDay + 1, 73 * 365 * kDay}) {
    const absl::Status status = CheckClock(kLast + ahead, kLast);
    EXPECT_EQ(status.code(), absl::StatusCode::kFailedPrecondition) << ahead;
    EXPECT_THAT(std::string(status.message()), HasSubstr("2026-03-02T08:00:00"));
    EXPECT_THAT(std::string(status.message()), HasSubstr("--clock-is-right"));
  }
  EXPECT_THAT(std::string(CheckClock(0, kLast).message()), HasSubstr("says 1970-01-01T00:00:00"));
}

}  // namespace
}  // namespace ferrule::service
