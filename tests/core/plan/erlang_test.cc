#include "core/plan/erlang.h"

#include <gtest/gtest.h>

#include <cmath>
#include <vector>

namespace ferrule::plan {
namespace {

void ExpectRelative(double got, double want, double tolerance) {
  EXPECT_NEAR(got / want, 1, tolerance) << got << " for " << want;
}

// Computed in exact rationals and by the ratio of R's dpois and ppois.
TEST(LossFormula, Values) {
  const struct {
    double load;
    int64_t units;
    double loss;
  } rows[] = {{1, 5, 0.00306748466257669},    {2, 5, 0.0366972477064220},
              {5, 5, 0.284867821330902},      {5, 10, 0.0183845703366481},
              {10, 10, 0.214582343107347},    {10, 15, 0.0364969454723708},
              {10, 20, 0.00186904985235430},  {20, 20, 0.158891961541972},
              {20, 30, 0.00845749834019470},  {50, 50, 0.104787455503552},
              {50, 60, 0.0216684730578062},   {50, 70, 0.00136792808734306},
              {80, 95, 0.0113690709825984},   {80, 100, 0.00399202860455320},
              {100, 100, 0.0757004527108610}, {100, 120, 0.00569005460686993},
              {200, 190, 0.0886968438692356}, {12000, 10000, 0.167080867625939},
              {180, 200, 0.010324995204982}};
  for (const auto& row : rows) {
    ExpectRelative(LossProbability(row.load, row.units), row.loss, 1e-10);
    ExpectRelative(std::exp(LogLossProbability(row.load, row.units)), row.loss, 1e-9);
  }
}

// A trunk-group calculator's manual prints 8.108 erlang for 15 lines at 1 % (erlang.com).
TEST(LossFormula, FifteenUnitsCarryEightPointOneAtOnePercent) {
  EXPECT_NEAR(LossProbability(8.108, 15), 0.00999963194259878, 1e-13);
  EXPECT_NEAR(LargestLoad(15, .01), 8.10804, 1e-5);
}

TEST(LossFormula, ExtremesKeepTheirDigits) {
  EXPECT_NEAR(LossProbability(5, 1), 0.8333333333333334, 1e-15);
  EXPECT_NEAR(LossProbability(20, 10), 0.5379631686320729, 1e-14);
  ExpectRelative(LossProbability(5, 200), 5.31667137e-238, 1e-7);
  EXPECT_NEAR(LogLossProbability(120, 100), -1.62826407041, 1e-10);
  EXPECT_NEAR(LogLossProbability(12000, 10000), -1.78927734649, 1e-10);
  EXPECT_NEAR(LogLossProbability(20, 100), -84.1661482002, 1e-9);
  EXPECT_NEAR(LogLossProbability(200, 10000), -29325.7541713, 1e-6);
  EXPECT_NEAR(LogLossProbability(10000, 100), -0.01004931575, 1e-10);
  EXPECT_EQ(LossProbability(0, 3), 0);
  EXPECT_EQ(LossProbability(3, 0), 1);
  EXPECT_EQ(LossProbability(0, 0), 1);
}

// 1 / loss is the mean of (1 + T)^units, T of the exponential law with mean 1 / load, for any
// units: here by Simpson's rule.
TEST(LossFormula, BetweenWholeNumbersIsTheSameFormula) {
  for (double load : {.02, .1, .5, 1.0, 2.0, 5.0, 12.0, 30.0, 84.0, 400.0}) {
    for (int64_t n : {0, 1, 2, 5, 20, 90})
      ExpectRelative(LossBetween(load, static_cast<double>(n)), LossProbability(load, n), 1e-9);
    for (double units : {.1, .3, .5, .8, 1.2, 2.5, 4.9, 10.5, 33.3, 89.7}) {
      constexpr int kSteps = 40'000;
      const double most = std::max(60.0, 4 * units);  // of load * T
      double sum = 0;
      for (int i = 0; i <= kSteps; ++i) {
        const double x = most * i / kSteps, weight = i == 0 || i == kSteps ? 1 : i % 2 == 1 ? 4 : 2;
        sum += weight * std::exp(-x + units * std::log1p(x / load));
      }
      ExpectRelative(LossBetween(load, units), 3 * kSteps / (sum * most), .02);
    }
  }
  EXPECT_EQ(LossBetween(3, -.5), 1);
  EXPECT_EQ(LossBetween(0, .5), 0);
  EXPECT_EQ(LossBetween(0, 0), 1);
  EXPECT_EQ(LossBetween(1e-3, 4000), 0);
}

TEST(LossFormula, LargestLoads) {  // by bisection in R 4.2.2
  const struct {
    int64_t units;
    double percent, permille;
  } rows[] = {{1, .01010, .00100},      {2, .15259, .04576},       {3, .45549, .19384},
              {5, 1.36079, .76211},     {10, 4.46118, 3.09204},    {20, 12.03061, 9.41145},
              {50, 37.90140, 32.51185}, {100, 84.06416, 75.24198}, {200, 179.73802, 165.62392}};
  for (const auto& row : rows) {
    EXPECT_NEAR(LargestLoad(row.units, .01), row.percent, 1e-5);
    EXPECT_NEAR(LargestLoad(row.units, .001), row.permille, 1e-5);
  }
}

TEST(LossFormula, SmallestFleets) {  // computed from the recursion in exact rationals
  const std::vector<double> shares = {.1, .05, .02, .01, .005, .001};
  const struct {
    double load;
    std::vector<int64_t> units;
  } rows[] = {{1, {3, 4, 4, 5, 5, 6}},
              {2.5, {5, 6, 7, 7, 8, 9}},
              {5, {8, 9, 10, 11, 12, 14}},
              {10, {13, 15, 17, 18, 19, 21}},
              {20, {23, 26, 28, 30, 32, 35}},
              {50, {51, 56, 61, 64, 66, 71}},
              {80, {78, 86, 92, 96, 100, 106}},
              {100, {97, 105, 113, 117, 121, 128}},
              {200, {188, 202, 214, 221, 227, 238}}};
  for (const auto& row : rows)
    for (size_t i = 0; i < shares.size(); ++i)
      EXPECT_EQ(SmallestFleet(row.load, shares[i]), row.units[i]) << row.load << " " << shares[i];
}

// Two branches of load 42 need 55 units each at 1 %, one of 84 needs 100.
TEST(LossFormula, PoolingTwoBranchesSavesTenUnits) {
  EXPECT_EQ(SmallestFleet(42, .01), 55);
  EXPECT_EQ(SmallestFleet(84, .01), 100);
}

}  // namespace
}  // namespace ferrule::plan
