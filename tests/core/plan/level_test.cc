#include "core/plan/level.h"

#include <gtest/gtest.h>

#include <cmath>

namespace ferrule::plan {
namespace {

TEST(LevelOfDemand, AShiftIsFollowedAndForgottenAhead) {
  std::vector<LevelBlock> blocks(60, {20, 20});
  for (size_t i = 50; i < 60; ++i) blocks[i].counted = 28;
  blocks.resize(70);  // ten blocks not seen
  const Level level = SmoothLevel(blocks, {.9, .06}, 1, 10);
  EXPECT_NEAR(level.log_mean[20], 0, .03);
  EXPECT_GT(level.log_mean[59], .15);
  EXPECT_LT(level.log_mean[69], level.log_mean[59]);
  EXPECT_GT(level.log_mean[69], 0);
  for (size_t i = 1; i < 10; ++i) EXPECT_GT(level.Covariance(i, i), level.Covariance(i - 1, i - 1));
}

TEST(LevelOfDemand, BookingsOfAComingBlockTell) {
  std::vector<LevelBlock> blocks(40, {20, 20});
  blocks.resize(44);
  const Level blind = SmoothLevel(blocks, {.9, .06}, 1, 4);
  blocks[40] = {24, 16};  // booked already: half as many again as expected by now
  const Level seen = SmoothLevel(blocks, {.9, .06}, 1, 4);
  EXPECT_GT(seen.log_mean[40], blind.log_mean[40] + .03);
  EXPECT_LT(seen.Covariance(0, 0), blind.Covariance(0, 0));
}

TEST(LevelOfDemand, NothingSeenIsLevelOneAndUnsure) {
  const Level level = FitLevel(std::vector<LevelBlock>(5), 1, 5);
  for (size_t i = 0; i < 5; ++i) EXPECT_NEAR(level.Mean(i), 1, .02);
  EXPECT_GT(level.Covariance(0, 0), 0);
  EXPECT_TRUE(FitLevel({}, 1, 5).log_mean.empty());
  const Level zeros = FitLevel(std::vector<LevelBlock>(30, {0, 2}), 1, 2);
  EXPECT_TRUE(std::isfinite(zeros.Mean(29)));
}

// With nothing booked the level is 1 in the mean and as doubtful as was said; what is booked counts
// as in a gamma law of the same mean and variance, (1/v + counted) / (1/v + expected).
TEST(Level, AroundAnotherMethodTakesItsDoubtAndLearnsFromBookings) {
  const std::vector<double> doubt = {.02, .03, .05};
  const Level blind = LevelAround(std::vector<LevelBlock>(3), doubt, 1);
  for (size_t i = 0; i < 3; ++i) {
    EXPECT_NEAR(blind.Mean(i), 1, 1e-9);
    for (size_t j = 0; j < 3; ++j) EXPECT_NEAR(blind.Covariance(i, j), doubt[std::min(i, j)], 1e-6);
  }
  const Level seen = LevelAround({{30, 20}}, {.04}, 1);
  EXPECT_NEAR(seen.Mean(0), (1 / .04 + 30) / (1 / .04 + 20), .01);
  EXPECT_NEAR(seen.Covariance(0, 0), 1 / (1 / .04 + 30), .003);
  // What is seen of the first week tells of the later ones, as far as they share its errors.
  const Level first = LevelAround({{30, 20}, {}, {}}, doubt, 1);
  EXPECT_GT(first.Mean(2), 1.05);
  EXPECT_LT(first.Mean(2), first.Mean(0) + .01);
  EXPECT_GT(first.Covariance(2, 2), first.Covariance(0, 0));
}

// The laws that an earlier fit found likely say nearly the same as all.
TEST(Level, LikelyLawsSpeakForAll) {
  std::vector<LevelBlock> blocks;
  for (int i = 0; i < 100; ++i) blocks.push_back({i % 20 < 10 ? 12. : 8., 10});
  const Level all = FitLevel(blocks, 1, 2);
  ASSERT_FALSE(all.likely.empty());
  ASSERT_LE(all.likely.size(), 6u);
  const Level few = FitLevel(blocks, 1, 2, all.likely);
  EXPECT_NEAR(few.Mean(99), all.Mean(99), .01);
  EXPECT_NEAR(few.Covariance(1, 1), all.Covariance(1, 1), .3 * all.Covariance(1, 1));
}

// Streams alike say how calm the level is, as far as the stream itself does not.
TEST(Level, StreamsAlikeSayHowItWanders) {
  std::vector<LevelBlock> still, wild;
  for (int i = 0; i < 100; ++i)
    still.push_back({10, 10}), wild.push_back({i % 20 < 10 ? 16. : 4., 10});
  const std::vector<LevelBlock> thin(still.begin(), still.begin() + 10);
  const LawEvidence calm = EvidenceOfLaws(still, 1), far = EvidenceOfLaws(wild, 1);
  ASSERT_EQ(calm.logs.size(), UsualLaws().size());
  const double alone = FitLevel(thin, 1, 1).Covariance(0, 0);
  EXPECT_LT(FitLevel(thin, 1, 1, UsualLaws(calm)).Covariance(0, 0), .8 * alone);
  EXPECT_GT(FitLevel(thin, 1, 1, UsualLaws(far)).Covariance(0, 0), 1.5 * alone);
  // Many count as a few, and what the stream itself says is heard.
  LawEvidence many, three;
  for (int i = 0; i < 40; ++i) many.Add(calm);
  for (int i = 0; i < 3; ++i) three.Add(calm);
  EXPECT_NEAR(FitLevel(thin, 1, 1, UsualLaws(many)).Covariance(0, 0),
              FitLevel(thin, 1, 1, UsualLaws(three)).Covariance(0, 0), 1e-9);
  EXPECT_GT(FitLevel(wild, 1, 1, UsualLaws(many)).Covariance(0, 0), .005);
  // What is taken away again was never there.
  many.Add(far), many.Remove(far);
  EXPECT_EQ(many.streams, 40);
  EXPECT_NEAR(many.logs[7], 40 * calm.logs[7], 1e-6);
}

}  // namespace
}  // namespace ferrule::plan
