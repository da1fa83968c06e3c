// Values computed with plain linear algebra two ways (the summing-matrix form and the constraint
// form) before this code was written.
#include "core/plan/reconcile.h"

#include "gmock/gmock.h"
#include "gtest/gtest.h"

namespace ferrule::plan {
namespace {

using ::testing::DoubleNear;
using ::testing::ElementsAre;

std::vector<double> Diagonal(const std::vector<double>& d) {
  std::vector<double> m(d.size() * d.size(), 0);
  for (size_t i = 0; i < d.size(); ++i) m[i * d.size() + i] = d[i];
  return m;
}

void ExpectAll(const std::vector<double>& got, const std::vector<double>& wanted,
               double tolerance) {
  ASSERT_EQ(got.size(), wanted.size());
  for (size_t i = 0; i < got.size(); ++i) EXPECT_NEAR(got[i], wanted[i], tolerance) << i;
}

TEST(Reconcile, AWholeAndTwoParts) {
  const std::vector<double> base = {10, 3, 5};
  const std::vector<SumRule> rules = {{0, {1, 2}}};
  ExpectAll(Reconcile(base, rules, Diagonal({1, 1, 1})),
            {9.33333333333, 3.66666666667, 5.66666666667}, 1e-10);
  ExpectAll(Reconcile(base, rules, Diagonal({2, 1, 1})), {9, 3.5, 5.5}, 1e-12);
  ExpectAll(Reconcile(base, rules, Diagonal({4, 1, 2})),
            {8.85714285714, 3.28571428571, 5.57142857143}, 1e-10);
  ExpectAll(Reconcile(base, rules, {4, 1, 1.5, 1, 1, .2, 1.5, .2, 2}),
            {8.75, 3.16666666667, 5.58333333333}, 1e-10);
}

TEST(Reconcile, TwoLevels) {
  const std::vector<double> base = {100, 55, 50, 30, 20, 25, 28};
  const std::vector<SumRule> rules = {{0, {1, 2}}, {1, {3, 4}}, {2, {5, 6}}};
  ExpectAll(
      Reconcile(base, rules, Diagonal({50, 30, 28, 20, 15, 16, 18})),
      {102.4826473, 51.89022163, 50.59242572, 31.08012664, 20.81009498, 23.86702387, 26.72540185},
      1e-7);
  ExpectAll(
      Reconcile(base, rules, Diagonal({1, 1, 1, 1, 1, 1, 1})),
      {101.8571429, 52.0952381, 49.76190476, 31.04761905, 21.04761905, 23.38095238, 26.38095238},
      1e-7);
  ExpectAll(
      Reconcile(base, rules, Diagonal({4, 2, 2, 1, 1, 1, 1})),
      {102.6666667, 51.83333333, 50.83333333, 30.91666667, 20.91666667, 23.91666667, 26.91666667},
      1e-7);
}

TEST(Reconcile, WhatAddsUpAndWhatIsWrongStays) {
  EXPECT_THAT(Reconcile({8, 3, 5}, {{0, {1, 2}}}, Diagonal({1, 1, 1})), ElementsAre(8, 3, 5));
  EXPECT_THAT(Reconcile({9, 3, 5}, {}, Diagonal({1, 1, 1})), ElementsAre(9, 3, 5));
  EXPECT_THAT(Reconcile({9, 3, 5}, {{0, {1, 9}}}, Diagonal({1, 1, 1})), ElementsAre(9, 3, 5));
  // The same rule twice is the rule once.
  ExpectAll(Reconcile({10, 3, 5}, {{0, {1, 2}}, {0, {1, 2}}}, Diagonal({1, 1, 1})),
            {9.33333333333, 3.66666666667, 5.66666666667}, 1e-9);
}

TEST(Shrinkage, OfResiduals) {
  const ShrunkCovariance s = ShrinkCovariance({{1, -2, .5, 3, -1, 0, 2, -1.5},
                                               {.5, -1, 1, 1, -.5, .2, 1, -1},
                                               {.8, -1.2, -.3, 2.2, -.4, -.1, .8, -.6}});
  EXPECT_NEAR(s.lambda, .174145210044, 1e-10);
  EXPECT_THAT(s.covariance, ElementsAre(DoubleNear(2.6875, 1e-10), DoubleNear(1.032318487, 1e-8),
                                        DoubleNear(1.295559702, 1e-8),
                                        DoubleNear(1.032318487, 1e-8), DoubleNear(.6925, 1e-10),
                                        DoubleNear(.524417792, 1e-8), DoubleNear(1.295559702, 1e-8),
                                        DoubleNear(.524417792, 1e-8), DoubleNear(1.0225, 1e-10)));
  EXPECT_EQ(ShrinkCovariance({}).lambda, 1);
}

}  // namespace
}  // namespace ferrule::plan
