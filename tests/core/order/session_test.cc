#include "core/order/session.h"

#include <gtest/gtest.h>

namespace ferrule::order {
namespace {

v1::Motion Set(double extension, double flexion, double speed, int64_t pause_s) {
  v1::Motion motion;
  motion.set_extension_deg(extension);
  motion.set_flexion_deg(flexion);
  motion.set_speed_deg_per_min(speed);
  motion.set_pause_s(pause_s);
  return motion;
}

// 0 to 90 degrees at 150 a minute (common practice, no source).
TEST(Session, WithoutPausesMakesFiftyCyclesAnHour) {
  const auto session = SessionOf(Set(0, 90, 150, 0));
  ASSERT_TRUE(session.has_value());
  EXPECT_EQ(session->cycle_ms(), 72'000);
  EXPECT_EQ(session->cycles_per_hour_tenths(), 500);
  EXPECT_EQ(session->arc_deg(), 90);
}

TEST(Session, WithFiveSecondsAtEachEndMakesFewer) {
  const auto session = SessionOf(Set(0, 90, 150, 5));
  EXPECT_EQ(session->cycle_ms(), 82'000);
  EXPECT_EQ(session->cycles_per_hour_tenths(), 439);
}

TEST(Session, CountsFromHyperextension) {
  EXPECT_EQ(SessionOf(Set(-10, 120, 150, 0))->cycle_ms(), 104'000);
}

TEST(Session, CountsTheCyclesOfADay) {
  v1::Motion motion = Set(0, 90, 150, 5);
  motion.set_daily_use_s(4 * 3600);
  EXPECT_EQ(SessionOf(motion)->daily_cycle_count(), 175);  // 14,400 / 82 = 175.6
}

TEST(Session, IsNotMadeUp) {
  v1::Motion motion = Set(0, 90, 150, 0);
  motion.clear_speed_deg_per_min();
  EXPECT_FALSE(SessionOf(motion).has_value());
  motion = Set(0, 90, 150, 0);
  motion.clear_extension_deg();
  EXPECT_FALSE(SessionOf(motion).has_value());
  EXPECT_FALSE(SessionOf(Set(40, 40, 150, 0)).has_value());
}

}  // namespace
}  // namespace ferrule::order
