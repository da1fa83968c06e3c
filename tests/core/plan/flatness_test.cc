// Whether what is foretold of units in use is as likely as it is said to be, on branches whose
// truth is known: the probability integral transform of whole counts, level by Hotelling's test
// over branches (TestLevel in core/plan/scores.h), and the share of days that bounds hold.
#include <gtest/gtest.h>

#include <array>
#include <cmath>
#include <iostream>
#include <vector>

#include "core/plan/occupancy.h"
#include "core/plan/random.h"
#include "core/plan/scores.h"
#include "tests/core/plan/branch_truth.h"

namespace ferrule::plan {
namespace {

constexpr int kDays = 1240;
constexpr int kHorizon = 56;
constexpr int kBins = 5;
constexpr std::array<size_t, 5> kBandEnd = {7, 14, 28, 42, 56};  // days ahead

size_t BandOf(size_t ahead) {
  size_t band = 0;
  while (ahead > kBandEnd[band]) ++band;
  return band;
}

// What came of all forecasts of one branch.
struct BranchResult {
  std::array<std::vector<TransformPair>, 5> pairs;
  std::array<double, 5> counted{}, days{};  // days whose count lies in CentralRange at 80 %
};

BranchResult Judge(uint64_t seed) {
  BranchResult result;
  BranchTruth truth = DrawBranch(seed, kDays);
  truth.input.horizon = kHorizon;
  for (int64_t now = 820; now + kHorizon < kDays; now += 28) {
    truth.input.now = now;
    for (const ClassOccupancy& one : ForecastOccupancy(truth.input))
      for (size_t i = 0; i < one.days.size(); ++i) {
        const Pmf& units = one.days[i].units;
        const int64_t y =
            truth.in_use[static_cast<size_t>(one.device_class)][static_cast<size_t>(now) + i + 1];
        const size_t band = BandOf(i + 1);
        result.pairs[band].push_back({Cdf(units, y - 1), Cdf(units, y)});
        const CountRange range = CentralRange(units, .8);
        result.counted[band] += y >= range.low && y <= range.high ? 1 : 0;
        result.days[band] += 1;
      }
  }
  return result;
}

std::vector<BranchResult> Results() {
  std::vector<BranchResult> all;
  for (uint64_t seed = 1; seed <= 24; ++seed) all.push_back(Judge(seed));
  return all;
}

// The transform as it would be if the law were `factor` as wide as it should be.
double Squeeze(double u, double factor) { return NormalCdf(factor * NormalQuantile(u)); }

TEST(Flatness, ForecastsOfBranchesWithKnownTruthAreHonest) {
  const std::vector<BranchResult> results = Results();
  std::vector<std::vector<double>> all, wide;
  for (const BranchResult& one : results) {
    std::vector<TransformPair> pairs, squeezed;
    for (const auto& band : one.pairs) pairs.insert(pairs.end(), band.begin(), band.end());
    for (const TransformPair& p : pairs)
      squeezed.push_back({Squeeze(p.below, .7), Squeeze(p.upto, .7)});
    all.push_back(TransformHistogram(pairs, kBins));
    wide.push_back(TransformHistogram(squeezed, kBins));
  }
  const LevelTest test = TestLevel(all);
  EXPECT_GT(test.probability, .01) << test.f;
  std::cout << "all days: F " << test.f << " on " << test.numerator << " and " << test.denominator
            << ", p " << test.probability << "\n";
  // The same test sees a law that is 1.4 times too wide.
  EXPECT_LT(TestLevel(wide).probability, .001);
  for (size_t band = 0; band < kBandEnd.size(); ++band) {
    std::vector<std::vector<double>> histograms;
    std::vector<TransformPair> pairs;
    double counted = 0, days = 0;
    for (const BranchResult& one : results) {
      histograms.push_back(TransformHistogram(one.pairs[band], kBins));
      pairs.insert(pairs.end(), one.pairs[band].begin(), one.pairs[band].end());
      counted += one.counted[band], days += one.days[band];
    }
    const LevelTest level = TestLevel(histograms);
    // Five tests: a hundredth for all of them together.
    EXPECT_GT(level.probability, .002) << "to day " << kBandEnd[band];
    EXPECT_NEAR(ShareWithin(pairs, .1, .9), .8, .04) << "to day " << kBandEnd[band];
    EXPECT_NEAR(ShareWithin(pairs, .025, .975), .95, .04) << "to day " << kBandEnd[band];
    EXPECT_NEAR(counted / days, .8, .04) << "to day " << kBandEnd[band];
    std::cout << "to day " << kBandEnd[band] << ": p " << level.probability << ", 80 % "
              << ShareWithin(pairs, .1, .9) << " by weight, " << counted / days
              << " of whole counts, 95 % " << ShareWithin(pairs, .025, .975) << "; shares";
    for (double share : level.mean) std::cout << ' ' << share;
    std::cout << "\n";
  }
}

// Honest forecasts that depend on each other within a branch are turned away no more often than
// the test says; counted as if independent, most of them are.
TEST(Flatness, DependenceWithinABranchIsNoFault) {
  constexpr int kRuns = 400;
  int away = 0, naive = 0;
  for (uint64_t run = 0; run < kRuns; ++run) {
    Random random(run, 9);
    std::vector<std::vector<double>> histograms;
    std::vector<TransformPair> pairs;
    for (int branch = 0; branch < 20; ++branch) {
      std::vector<TransformPair> own;
      for (int origin = 0; origin < 12; ++origin) {
        const double common = std::sqrt(.8) * random.Normal();
        for (int day = 0; day < 20; ++day) {
          const double u = NormalCdf(common + std::sqrt(.2) * random.Normal());
          own.push_back({std::max(0.0, u - 1e-9), u});
        }
      }
      histograms.push_back(TransformHistogram(own, kBins));
      pairs.insert(pairs.end(), own.begin(), own.end());
    }
    away += TestLevel(histograms).probability < .05 ? 1 : 0;
    naive += FlatnessProbability(pairs, kBins) < .05 ? 1 : 0;
  }
  EXPECT_LT(away, .11 * kRuns);
  EXPECT_GT(away, .01 * kRuns);
  EXPECT_GT(naive, .7 * kRuns);
}

TEST(Flatness, TooFewBranchesTellNothing) {
  EXPECT_EQ(TestLevel({}).probability, 1);
  EXPECT_EQ(TestLevel({{.9, .1}, {.8, .2}}).probability, 1);
}

}  // namespace
}  // namespace ferrule::plan
