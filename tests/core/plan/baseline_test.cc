#include "core/plan/baseline.h"

#include <gtest/gtest.h>

#include <cmath>

namespace ferrule::plan {
namespace {

TEST(PlainMethods, TheValueOneCycleAgo) {
  const SeriesForecast f = ForecastSeasonalNaive({{1, 2, 3, 11, 12, 13}, 3, 0, {}}, 4);
  EXPECT_EQ(f.steps[0].mean, 11);
  EXPECT_EQ(f.steps[2].mean, 13);
  EXPECT_EQ(f.steps[3].mean, 11);
  EXPECT_GT(f.steps[3].quantiles[5], f.steps[0].quantiles[5]);
}

TEST(PlainMethods, ThetaCarriesHalfTheDrift) {
  std::vector<double> line;
  for (int t = 0; t < 200; ++t) line.push_back(100 + 2 * t);
  const SeriesForecast f = ForecastTheta({line, 1, 0, {}}, 10);
  EXPECT_NEAR(f.steps[9].mean - f.steps[0].mean, 9, .01);
}

TEST(PlainMethods, SeasonsAreRatiosOfMeanOne) {
  std::vector<double> y;
  for (int t = 0; t < 24; ++t) y.push_back(t % 2 == 0 ? 8 : 12);
  const std::vector<double> ratios = SeasonRatios(y, 2);
  EXPECT_NEAR(ratios[0], .8, 1e-12);
  EXPECT_NEAR(ratios[1], 1.2, 1e-12);
  EXPECT_TRUE(SeasonRatios({1, 0, 1, 2, 3}, 2).empty());
}

TEST(PlainMethods, NoHistoryGivesWideBounds) {
  const SeriesForecast none = ForecastSeasonalNaive({}, 3);
  EXPECT_GT(none.steps[0].mean, 0);
  EXPECT_GT(none.steps[0].quantiles[6], 2);
  EXPECT_FALSE(none.basis.empty());
  EXPECT_GT(ForecastTheta({{4, 4}, 1, 0, {}}, 1).steps[0].quantiles[6], 5);
}

}  // namespace
}  // namespace ferrule::plan
