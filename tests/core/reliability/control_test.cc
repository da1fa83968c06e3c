// Control limits and smoothed readings, against the published examples.
#include "core/reliability/control.h"

#include <gtest/gtest.h>

namespace ferrule::reliability {
namespace {

// NIST/SEMATECH e-Handbook, section 6.3.2.2: ten flow rates, mean 50.81, mean moving range 1.8778,
// limits 45.816 and 55.804 (data and figures from memory; recomputed with R 4.2.2).
const std::vector<double> kFlow = {49.6, 47.6, 49.9, 51.3, 47.8, 51.2, 52.6, 52.4, 53.6, 52.1};

TEST(IndividualLimits, OfThePublishedFlowRates) {
  const auto limits = IndividualLimits(kFlow);
  ASSERT_TRUE(limits.has_value());
  EXPECT_NEAR(limits->center, 50.81, 1e-9);
  EXPECT_NEAR(limits->sigma * 1.128, 1.8778, 1e-4);
  EXPECT_NEAR(limits->low, 45.8159, 1e-4);
  EXPECT_NEAR(limits->high, 55.8041, 1e-4);
  EXPECT_FALSE(IndividualLimits({1}).has_value());
}

// Section 6.3.2.4: twenty readings, start 50, s 2.0539, weight 0.3; limits 47.4115 and 52.5884
// (data from memory; every figure recomputed with R 4.2.2).
TEST(Smooth, OfThePublishedReadings) {
  const std::vector<double> readings = {52.0, 47.0, 53.0, 49.3, 50.1, 47.0, 51.0, 50.1, 51.2, 50.5,
                                        49.6, 47.6, 49.9, 51.3, 47.8, 51.2, 52.6, 52.4, 53.6, 52.1};
  const double kSmoothed[] = {50,    50.60, 49.52, 50.56, 50.18, 50.16, 49.21,
                              49.75, 49.85, 50.26, 50.33, 50.11, 49.36, 49.52,
                              50.05, 49.38, 49.92, 50.73, 51.23, 51.94, 51.99};
  const std::vector<double> smoothed = Smooth(readings, 50, 0.3);
  ASSERT_EQ(smoothed.size(), 21u);
  for (size_t i = 0; i < smoothed.size(); ++i) EXPECT_NEAR(smoothed[i], kSmoothed[i], 0.006) << i;
  const ControlLimits limits = SmoothLimits(50, 2.0539, 0.3);
  EXPECT_NEAR(limits.high, 52.5884, 1e-4);
  EXPECT_NEAR(limits.low, 47.4116, 1e-4);
}

TEST(WatchDrift, SeesOneReadingThatLeavesItsHabit) {
  std::vector<double> readings = kFlow;
  readings.push_back(55.7);
  EXPECT_FALSE(WatchDrift(readings, 10)->outside);
  readings.back() = 55.9;
  EXPECT_TRUE(WatchDrift(readings, 10)->outside);
}

TEST(WatchDrift, SeesASlowCreepBeforeAnySingleReadingLeaves) {
  std::vector<double> readings = kFlow;
  for (int i = 0; i < 8; ++i) readings.push_back(54.5);
  const auto drift = WatchDrift(readings, 10);
  EXPECT_FALSE(drift->outside);
  EXPECT_TRUE(drift->wandering);
}

TEST(WatchDrift, HasNothingToSayOfTooFewOrOfEqualReadings) {
  EXPECT_FALSE(WatchDrift(kFlow, 10).has_value());
  EXPECT_FALSE(WatchDrift({1, 1, 1, 1, 9}, 4).has_value());
}

}  // namespace
}  // namespace ferrule::reliability
