#include "core/plan/symmetric.h"

#include <gtest/gtest.h>

#include <cmath>

namespace ferrule::plan {
namespace {

Symmetric Hilbert(size_t n) {
  Symmetric a(n);
  for (size_t i = 0; i < n; ++i)
    for (size_t j = 0; j <= i; ++j) a.At(i, j) = 1.0 / static_cast<double>(i + j + 1);
  return a;
}

TEST(Symmetric, SolvesWhatItMultiplied) {
  const Symmetric a = Hilbert(5);
  const std::vector<double> x = {1, -2, 3, .5, 4};
  std::vector<double> b(5, 0);
  for (size_t i = 0; i < 5; ++i)
    for (size_t j = 0; j < 5; ++j) b[i] += (i >= j ? a.At(i, j) : a.At(j, i)) * x[j];
  const std::vector<double> got = a.Solve(b);
  for (size_t i = 0; i < 5; ++i) EXPECT_NEAR(got[i], x[i], 1e-8);
}

TEST(Symmetric, InverseAndDeterminantOfAHilbertMatrix) {  // exact: 9, -36, 192; det 1/2160
  const Symmetric inverse = Hilbert(3).Inverse();
  EXPECT_NEAR(inverse.At(0, 0), 9, 1e-9);
  EXPECT_NEAR(inverse.At(1, 0), -36, 1e-9);
  EXPECT_NEAR(inverse.At(1, 1), 192, 1e-8);
  EXPECT_NEAR(Hilbert(3).LogDeterminant(), -std::log(2160.0), 1e-10);
}

TEST(Symmetric, ADirectionWithoutInformationGetsZero) {
  Symmetric a(2);
  a.At(0, 0) = 2;
  const std::vector<double> x = a.Solve({4, 7});
  EXPECT_EQ(x[0], 2);
  EXPECT_EQ(x[1], 0);
}

}  // namespace
}  // namespace ferrule::plan
