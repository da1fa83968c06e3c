#include "core/plan/random.h"

#include <gtest/gtest.h>

#include <cmath>

namespace ferrule::plan {
namespace {

TEST(Chance, OneSeedAndStreamIsOneSequence) {
  Random a(7, 3), b(7, 3), c(7, 4);
  bool differs = false;
  for (int i = 0; i < 100; ++i) {
    const uint64_t x = a.Next();
    EXPECT_EQ(x, b.Next());
    differs = differs || x != c.Next();
  }
  EXPECT_TRUE(differs);
}

TEST(Chance, MomentsOfItsLaws) {
  Random random(1);
  const int n = 40000;
  for (double mean : {.3, 4.0, 30.0, 200.0}) {
    double sum = 0, squares = 0;
    for (int i = 0; i < n; ++i) {
      const double x = static_cast<double>(random.Poisson(mean));
      sum += x, squares += x * x;
    }
    EXPECT_NEAR(sum / n, mean, 5 * std::sqrt(mean / n));
    EXPECT_NEAR(squares / n - sum / n * sum / n, mean, .05 * mean + .02);
  }
  double sum = 0, normal = 0;
  for (int i = 0; i < n; ++i) sum += random.Gamma(.5, 2), normal += random.Normal();
  EXPECT_NEAR(sum / n, 1, .04);
  EXPECT_NEAR(normal / n, 0, .03);
  EXPECT_EQ(random.Poisson(0), 0);
  EXPECT_EQ(random.Poisson(-1), 0);
}

}  // namespace
}  // namespace ferrule::plan
