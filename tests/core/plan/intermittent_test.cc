#include "core/plan/intermittent.h"

#include <gtest/gtest.h>

#include <cmath>

namespace ferrule::plan {
namespace {

// Product C of Hyndman and Athanasopoulos, Forecasting: Principles and Practice (2nd ed.); the
// values in exact rationals and by R forecast 8.20 croston().
const std::vector<double> kProduct = {0, 2, 0, 1, 0, 11, 0, 0, 0, 0, 2, 0, 6, 3, 0, 0, 0, 0,
                                      0, 7, 0, 0, 0, 0,  0, 0, 0, 3, 1, 0, 0, 1, 0, 1, 0, 0};

TEST(IntermittentDemand, CrostonAndItsCorrections) {
  const CrostonState s = RunCroston(kProduct, .1);
  EXPECT_NEAR(s.size, 2.7502538401, 1e-10);
  EXPECT_NEAR(s.interval, 2.79328007, 1e-10);
  EXPECT_NEAR(CrostonRate(s, .1, Intermittent::kCroston), .9845965213577742, 1e-12);
  EXPECT_NEAR(CrostonRate(s, .1, Intermittent::kSyntetosBoylan), .9353666952898855, 1e-12);
  EXPECT_NEAR(CrostonRate(s, .1, Intermittent::kShaleBoylanJohnston), .9327756518126282, 1e-12);
}

TEST(IntermittentDemand, ChanceAndSizeApart) {
  const TsbState s = RunTsb(kProduct, .1, .05, {2, .5});
  EXPECT_NEAR(s.chance, .32940688214313263, 1e-12);
  EXPECT_NEAR(s.chance * s.size, .9059525425695185, 1e-12);
}

TEST(IntermittentDemand, SumsOverBuckets) {
  EXPECT_NEAR(AggregatedRate(kProduct, 1, .1), .605996507, 1e-9);
  EXPECT_NEAR(AggregatedRate(kProduct, 2, .1), .829763286, 1e-9);
  EXPECT_NEAR(AggregatedRate(kProduct, 6, .1), 1.696863333, 1e-9);
  EXPECT_NEAR(AggregatedRate(kProduct, 12, .1), 1.25, 1e-12);
}

TEST(IntermittentDemand, NoDemandIsNoCertainZero) {
  const Series none{std::vector<double>(100, 0.0), 7, 0, {}};
  for (const SeriesForecast& f :
       {ForecastCroston(none, 5, Intermittent::kCroston), ForecastTsb(none, 5),
        ForecastMeanRate(none, 5), ForecastSmoothedRate(none, 5), ForecastMeanRate({}, 5)}) {
    ASSERT_EQ(f.steps.size(), 5u);
    EXPECT_GT(f.steps[0].mean, 0);
    EXPECT_TRUE(std::isfinite(f.steps[4].quantiles[6]));
    EXPECT_FALSE(f.basis.empty());
  }
}

}  // namespace
}  // namespace ferrule::plan
