#include "core/plan/airline.h"

#include <gtest/gtest.h>

#include <cmath>

#include "core/plan/random.h"

namespace ferrule::plan {
namespace {

// A series of the law itself: differences of both kinds are moving averages of the innovations.
std::vector<double> Drawn(double near, double cycle, bool logs, size_t n) {
  const size_t s = 12;
  Random random(11);
  std::vector<double> e, z(s + 1, logs ? 5 : 300);
  for (size_t t = 0; t < n; ++t) e.push_back((logs ? .03 : 4) * random.Normal());
  for (size_t t = s + 1; t < n; ++t)
    z.push_back(z[t - 1] + z[t - s] - z[t - s - 1] + e[t] + near * e[t - 1] + cycle * e[t - s] +
                near * cycle * e[t - s - 1]);
  if (logs)
    for (double& v : z) v = std::exp(v);
  return z;
}

TEST(SeasonalDifferences, WeightsOfADrawnSeriesAreFound) {
  for (bool logs : {false, true}) {
    const AirlineFit fit = FitAirline(Drawn(-.5, -.7, logs, 700), 12, logs);
    ASSERT_TRUE(fit.usable);
    EXPECT_NEAR(fit.near, -.5, .1);
    EXPECT_NEAR(fit.cycle, -.7, .1);
    EXPECT_NEAR(std::sqrt(fit.variance), logs ? .03 : 4, logs ? .003 : .4);
  }
}

TEST(SeasonalDifferences, TheFormIsThatOfGreaterLikelihood) {
  EXPECT_EQ(ForecastAirline({Drawn(-.5, -.7, true, 240), 12, 0, {}}, 3).basis,
            "seasonal differences of logs");
  std::vector<double> sums;  // a season that stays as large while the level trebles
  Random random(2);
  for (int t = 0; t < 144; ++t)
    sums.push_back(200 + 3 * t + 60 * std::sin(t * .5236) + 5 * random.Normal());
  EXPECT_EQ(ForecastAirline({sums, 12, 0, {}}, 3).basis, "seasonal differences");
}

TEST(SeasonalDifferences, BoundsHoldWhatComes) {
  const std::vector<double> all = Drawn(-.4, -.6, true, 600);
  int inside = 0, steps = 0;
  for (size_t origin = 200; origin + 12 <= all.size(); origin += 20) {
    const SeriesForecast forecast =
        ForecastAirline({{all.begin(), all.begin() + static_cast<int64_t>(origin)}, 12, 0, {}}, 12);
    for (size_t h = 0; h < 12; ++h, ++steps)
      inside += all[origin + h] >= forecast.steps[h].quantiles[1] &&
                all[origin + h] <= forecast.steps[h].quantiles[3];
  }
  EXPECT_NEAR(static_cast<double>(inside) / steps, .8, .09);
}

TEST(SeasonalDifferences, WhatIsTooShortOrEvenSaysSo) {
  for (size_t n : {0u, 1u, 20u}) {
    const SeriesForecast f = ForecastAirline({std::vector<double>(n, 3), 12, 0, {}}, 4);
    ASSERT_EQ(f.steps.size(), 4u);
    EXPECT_TRUE(f.basis.starts_with("too short")) << f.basis;
  }
  EXPECT_FALSE(FitAirline(std::vector<double>(60, 3), 12, false).usable);  // nothing varies
  EXPECT_FALSE(FitAirline({-1, 2, 3}, 12, true).usable);
}

}  // namespace
}  // namespace ferrule::plan
