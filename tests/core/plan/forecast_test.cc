#include "core/plan/forecast.h"

#include <gtest/gtest.h>

namespace ferrule::plan {
namespace {

TEST(Forecasts, CountsHaveWholeQuantiles) {
  const SeriesForecast f = CountForecast({3, 84}, {12, 84});
  EXPECT_EQ(f.steps[0].quantiles[3], 8);   // NB(3, 1), R 4.2.2
  EXPECT_EQ(f.steps[1].quantiles[0], 67);  // Poisson(84)
  EXPECT_NEAR(f.steps[0].variance, 12, 1e-9);
  EXPECT_NEAR(f.steps[1].variance, 84, 1e-9);
}

TEST(Forecasts, AmountsStayAboveZeroWhereTheyMust) {
  EXPECT_EQ(NormalForecast({1}, {2}, true).steps[0].quantiles[0], 0);
  EXPECT_LT(NormalForecast({1}, {2}, false).steps[0].quantiles[0], 0);
}

TEST(Forecasts, CombiningWeighsQuantiles) {
  const SeriesForecast a = NormalForecast({0}, {1}, false), b = NormalForecast({4}, {1}, false);
  EXPECT_NEAR(Combine({&a, &b}, {3, 1}).steps[0].quantiles[2], 1, 1e-12);
  EXPECT_NEAR(Combine({&a, &b}, {3, 1}).steps[0].variance, 1, 1e-12);
  EXPECT_TRUE(Combine({}, {}).steps.empty());
}

TEST(Forecasts, PathsAreSortedPerStep) {
  std::vector<std::vector<double>> paths;
  for (int p = 0; p <= 100; ++p) paths.push_back({static_cast<double>((p * 37) % 101)});
  const SeriesForecast f = PathForecast(paths, true);
  EXPECT_NEAR(f.steps[0].quantiles[2], 50, 1e-9);
  EXPECT_NEAR(f.steps[0].quantiles[3], 90, 1e-9);
  EXPECT_NEAR(f.steps[0].variance, 850, 1e-9);  // (101^2 - 1) / 12
}

TEST(Forecasts, CountsAreTold) {
  EXPECT_TRUE(IsCount({{0, 3, 2}, 1, 0, {}}));
  EXPECT_FALSE(IsCount({{0, 2.5}, 1, 0, {}}));
  EXPECT_FALSE(IsNonNegative({{0, -1}, 1, 0, {}}));
}

}  // namespace
}  // namespace ferrule::plan
