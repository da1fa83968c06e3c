// Duane's slope and the power law, against published data.
#include "core/reliability/growth.h"

#include <gtest/gtest.h>

namespace ferrule::reliability {
namespace {

// Failure times and cumulative hours as given at accendoreliability.com, "Duane plot of cumulative
// failures over time" (a secondary source); slope recomputed with R 4.2.2, lm.
TEST(Duane, SlopeOfThePublishedPlot) {
  EXPECT_NEAR(*DuaneSlope({33, 76, 145, 347, 555, 811, 1212, 1499}), 0.4930227, 1e-7);
}

TEST(Duane, HasNoSlopeWithoutTwoTimes) {
  EXPECT_FALSE(DuaneSlope({}).has_value());
  EXPECT_FALSE(DuaneSlope({40}).has_value());
  EXPECT_FALSE(DuaneSlope({40, 40}).has_value());
}

// Data and the published 0.5165 and 310 h: NIST/SEMATECH e-Handbook, section 8.1.9, from memory;
// every figure recomputed with R 4.2.2.
const std::vector<double> kFailures = {5, 40, 43, 175, 389, 712, 747, 795, 1299, 1478};

TEST(PowerLaw, OfTheImprovementTest) {
  const std::optional<PowerLaw> law = FitPowerLaw(kFailures, 1500);
  ASSERT_TRUE(law.has_value());
  EXPECT_NEAR(law->b, 0.5372289, 1e-7);
  EXPECT_NEAR(law->b_unbiased, 0.4835060, 1e-7);
  EXPECT_NEAR(law->growth_slope, 0.5164940, 1e-7);
  EXPECT_NEAR(law->mtbf_at_end, 310.234, 1e-3);
  EXPECT_NEAR(law->mtbf_at_end_ml, 279.2106, 1e-4);
  EXPECT_NEAR(law->lambda, 0.1966582, 1e-7);
}

TEST(PowerLaw, TrendIsBeyondChance) {
  const std::optional<PowerLaw> law = FitPowerLaw(kFailures, 1500);
  EXPECT_NEAR(law->trend, 37.22808, 1e-5);
  EXPECT_EQ(law->degrees_of_freedom, 20);
  EXPECT_NEAR(law->improving_probability, 0.010986, 1e-6);
  EXPECT_NEAR(law->trend_probability, 2 * 0.010986357, 1e-8);
}

TEST(PowerLaw, NeedsTwoFailuresBeforeTheEnd) {
  EXPECT_FALSE(FitPowerLaw({5}, 10).has_value());
  EXPECT_FALSE(FitPowerLaw({10, 10}, 10).has_value());
}

}  // namespace
}  // namespace ferrule::reliability
