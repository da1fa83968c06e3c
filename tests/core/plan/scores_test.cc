#include "core/plan/scores.h"

#include <gtest/gtest.h>

#include <numeric>

namespace ferrule::plan {
namespace {

TEST(Scores, PinballLossOfAHighQuantile) {
  EXPECT_NEAR(PinballLoss(7, 5, .9), 1.8, 1e-14);
  EXPECT_NEAR(PinballLoss(3, 5, .9), .2, 1e-14);
}

// R surveillance::scores (Czado, Gneiting and Held 2009) and the sum written out.
TEST(Scores, RankedProbabilityScores) {
  EXPECT_NEAR(RankedProbabilityScore(CountLaw{2.5}, 0), 1.63121730112, 1e-10);
  EXPECT_NEAR(RankedProbabilityScore(CountLaw{2.5}, 3), .457608520497, 1e-10);
  EXPECT_NEAR(RankedProbabilityScore(CountLaw{2.5}, 10), 6.63137152339, 1e-10);
  EXPECT_NEAR(RankedProbabilityScore(CountLaw{3, 1}, 12), 7.47577239786, 1e-10);
  EXPECT_NEAR(RankedProbabilityScore(CountLaw{84, 100}, 100), 10.3551974263, 1e-9);
  EXPECT_NEAR(RankedProbabilityScore(Point(4), 9), 5, 1e-14);
  EXPECT_NEAR(RankedProbabilityScore(Point(4), 1), 3, 1e-14);
}

TEST(Scores, LogScores) {
  EXPECT_NEAR(LogScore({2.5}, 3), 1.54288727361, 1e-10);
  EXPECT_NEAR(LogScore({3, 1}, 12), 4.83847923054, 1e-10);
  EXPECT_NEAR(LogScore({84, 100}, 120), 7.19686181966, 1e-9);
}

TEST(Scores, TransformOfCounts) {  // R surveillance::pit, five bins
  std::vector<TransformPair> pairs;
  for (int y : {0, 1, 2, 3, 5, 4, 2, 2, 1, 3})
    pairs.push_back({Cdf(CountLaw{2.5}, y - 1), Cdf(CountLaw{2.5}, y)});
  const std::vector<double> bins = TransformHistogram(pairs, 5);
  const double want[] = {.214919903371, .216887864720, .220761553618, .179184621447, .168246056844};
  for (size_t i = 0; i < 5; ++i) EXPECT_NEAR(bins[i], want[i], 1e-10);
}

TEST(Scores, ScalesThatCannotBeToldScoreNothing) {
  EXPECT_EQ(NaiveScale({3, 3, 3}, 1), 0);
  EXPECT_EQ(NaiveScale({3}, 7), 0);
  EXPECT_EQ(ScaledError({1}, {2}, 0), -1);
  EXPECT_EQ(WeightedPercentageError({0, 0}, {1, 1}), -1);
  EXPECT_NEAR(WeightedPercentageError({2, 2}, {1, 2}), .25, 1e-15);
  EXPECT_NEAR(ScaledError({1, 2}, {2, 4}, 3), .5, 1e-15);
}

// Even bins are no surprise; all in one bin are. The chi-square quantile of 9 degrees of freedom
// at .95 is 16.919 (any table).
TEST(Flatness, EvenIsLikelyAndHeapedIsNot) {
  std::vector<TransformPair> even, heaped;
  for (int i = 0; i < 200; ++i) {
    even.push_back({(i + .5) / 200 - 1e-9, (i + .5) / 200});
    heaped.push_back({.449, .45});
  }
  EXPECT_GT(FlatnessProbability(even, 10), .999);
  EXPECT_LT(FlatnessProbability(heaped, 10), 1e-6);
  EXPECT_EQ(FlatnessProbability({}, 10), 1);
  // 100 observations, of which one bin has 10 + d and another 10 - d: chi-square is d * d / 5.
  std::vector<TransformPair> tilted;
  for (int b = 0; b < 10; ++b)
    for (int k = 0; k < 10 + (b == 0 ? 9 : b == 1 ? -9 : 0); ++k)
      tilted.push_back({b / 10.0 + .0499, b / 10.0 + .05});
  EXPECT_NEAR(FlatnessProbability(tilted, 10), .0643, .002);  // chi-square 16.2
}

// A sure count of which the bounds cut off a tenth on either side holds .8 of its weight; one
// wholly inside 1, one wholly outside 0 (by the definition).
TEST(Scores, BoundsHoldAShareOfEachCount) {
  EXPECT_NEAR(ShareWithin({{0, 1}}, .1, .9), .8, 1e-15);
  EXPECT_NEAR(ShareWithin({{.2, .5}}, .1, .9), 1, 1e-15);
  EXPECT_NEAR(ShareWithin({{.95, 1}}, .1, .9), 0, 1e-15);
  EXPECT_NEAR(ShareWithin({{0, .4}, {.95, 1}}, .1, .9), .375, 1e-15);
  EXPECT_EQ(ShareWithin({}, .1, .9), 0);
  // Of an honest forecast, by its own odds, exactly what the bounds claim.
  const CountLaw law = CountLawOfMoments(2.5, 2.5);
  double held = 0, below = 0;
  for (int64_t y = 0; y < 40; ++y) {
    const double upto = Cdf(law, y);
    held += (upto - below) * ShareWithin({{below, upto}}, .1, .9);
    below = upto;
  }
  EXPECT_NEAR(held, .8, 1e-12);
}

}  // namespace
}  // namespace ferrule::plan
