#include "core/plan/methods.h"

#include <gtest/gtest.h>

#include <algorithm>
#include <cmath>

namespace ferrule::plan {
namespace {

TEST(Methods, EachAnswersAnySeriesWithoutNonsense) {
  const std::vector<std::vector<double>> all = {{},
                                                {0},
                                                {5},
                                                {0, 0, 0, 0},
                                                {1, 2},
                                                std::vector<double>(40, 7.0),
                                                std::vector<double>(40, 0.0),
                                                {1e9, 0, 1e9, 0, 1e9, 0, 1e9, 0, 1e9, 0, 1e9, 0}};
  for (const std::vector<double>& values : all)
    for (int m = 0; m <= static_cast<int>(Method::kSmoothedRate); ++m) {
      const Method method = static_cast<Method>(m);
      EXPECT_FALSE(Name(method).empty());
      const SeriesForecast f = ForecastBy(method, {values, 7, 0, {}}, 9);
      ASSERT_EQ(f.steps.size(), 9u) << Name(method);
      for (const StepForecast& s : f.steps) {
        EXPECT_TRUE(std::isfinite(s.mean)) << Name(method) << values.size();
        for (size_t q = 0; q < kLevels.size(); ++q) {
          EXPECT_TRUE(std::isfinite(s.quantiles[q]));
          EXPECT_GE(s.quantiles[q], q == 0 ? 0 : s.quantiles[q - 1]);
        }
      }
    }
}

TEST(Methods, OnlyWhatSuitsIsTried) {
  std::vector<double> values;
  for (int t = 0; t < 60; ++t) values.push_back(t % 4 == 0 ? 2 : 0);
  const std::vector<Method> sparse = SuitableMethods({values, 7, 0, {}});
  EXPECT_NE(std::find(sparse.begin(), sparse.end(), Method::kTsb), sparse.end());
  EXPECT_EQ(std::find(sparse.begin(), sparse.end(), Method::kHoltWintersRatio), sparse.end());
  EXPECT_FALSE(SuitableMethods({}).empty());
}

}  // namespace
}  // namespace ferrule::plan
