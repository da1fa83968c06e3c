#include "core/time/clock.h"

#include <gtest/gtest.h>

#include "core/time/civil.h"

namespace ferrule::time {
namespace {

TEST(SystemClock, GivesMicrosecondsOfThisCentury) {
  const int64_t now = SystemClock().NowMicros();
  EXPECT_GT(now, ParseInstant("2026-01-01", absl::UTCTimeZone()).value());
  EXPECT_LT(now, ParseInstant("2100-01-01", absl::UTCTimeZone()).value());
}

TEST(SystemClock, GoesForward) {
  const SystemClock clock;
  const int64_t earlier = clock.NowMicros();
  EXPECT_GE(clock.NowMicros(), earlier);
}

TEST(ManualClock, StandsWhereItWasPut) {
  ManualClock clock(17);
  EXPECT_EQ(clock.NowMicros(), 17);
  EXPECT_EQ(clock.NowMicros(), 17);
  clock.Set(-5);
  EXPECT_EQ(clock.NowMicros(), -5);
}

}  // namespace
}  // namespace ferrule::time
