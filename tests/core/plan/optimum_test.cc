#include "core/plan/optimum.h"

#include <gtest/gtest.h>

#include <cmath>

namespace ferrule::plan {
namespace {

TEST(Optimum, OneUnknownIsFoundInsideAndAtTheEnds) {
  EXPECT_NEAR(MinimiseOnInterval([](double x) { return (x - 2) * (x - 2); }, -10, 10), 2, 1e-6);
  EXPECT_NEAR(MinimiseOnInterval([](double x) { return x; }, 3, 5), 3, 1e-6);
  EXPECT_NEAR(MinimiseOnInterval([](double x) { return -x; }, 3, 5), 5, 1e-6);
}

TEST(Optimum, ACurvedValleyIsFollowedToItsEnd) {  // Rosenbrock 1960
  const Minimum m = Minimise(
      [](const std::vector<double>& x) {
        return 100 * std::pow(x[1] - x[0] * x[0], 2) + std::pow(1 - x[0], 2);
      },
      {-1.2, 1}, {.5, .5}, 1e-14, 4000);
  EXPECT_TRUE(m.converged);
  EXPECT_NEAR(m.at[0], 1, 1e-4);
  EXPECT_NEAR(m.at[1], 1, 1e-4);
}

TEST(Optimum, RefusedPointsAreWalls) {
  const Minimum m =
      Minimise([](const std::vector<double>& x) { return x[0] < 1 ? std::nan("") : x[0]; }, {4},
               {1}, 1e-10, 500);
  EXPECT_NEAR(m.at[0], 1, 1e-6);
}

TEST(Optimum, TheLimitOfEvaluationsIsTold) {
  const Minimum m =
      Minimise([](const std::vector<double>& x) { return x[0] * x[0]; }, {1e6}, {1}, 1e-12, 10);
  EXPECT_FALSE(m.converged);
  EXPECT_LE(m.evaluations, 14);
}

}  // namespace
}  // namespace ferrule::plan
