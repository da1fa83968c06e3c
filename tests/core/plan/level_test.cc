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

}  // namespace
}  // namespace ferrule::plan
