#include "core/plan/replay.h"

#include "core/plan/erlang.h"
#include "core/plan/random.h"
#include "gtest/gtest.h"

namespace ferrule::plan {
namespace {

TEST(Replay, OneUnitServesOneOrderAtATime) {
  // Day 0 for 3 days, day 2 finds none, day 3 gets it again.
  const ReplayResult result = Replay({{0, 3}, {2, 5}, {3, 2}}, 0, 9, 1);
  EXPECT_EQ(result.orders, 3);
  EXPECT_EQ(result.lost, 1);
  EXPECT_EQ(result.used_unit_days, 5);
  EXPECT_EQ(result.lost_unit_days, 5);
}

TEST(Replay, NoOrdersAndNoUnitsAreAnswered) {
  EXPECT_EQ(Replay({}, 0, 10, 3).orders, 0);
  EXPECT_EQ(Replay({{1, 2}}, 0, 10, 0).lost, 1);
  EXPECT_EQ(Replay({{1, 2}}, 5, 4, 1).orders, 0);
  EXPECT_EQ(Replay({{-1, 2}, {11, 2}}, 0, 10, 1).orders, 0);
}

// Constant load: the share lost is that of the loss formula, whatever the lengths are.
TEST(Replay, LosesWhatTheLossFormulaSays) {
  Random random(3);
  std::vector<ReplayOrder> orders;
  constexpr int64_t kDays = 60'000;
  for (int64_t day = 0; day < kDays; ++day)
    for (int64_t n = random.Poisson(.4); n > 0; --n)
      orders.push_back({day, 10 + static_cast<int64_t>(random.Uniform() * 31)});
  // Mean length 25 days. An order finds the units of the 24 days before, and on average half of its
  // own day's: a load of .4 x 24.5.
  const ReplayResult result = Replay(orders, 0, kDays - 1, 12);
  EXPECT_NEAR(result.lost / result.orders, LossProbability(9.8, 12), .012);
}

TEST(Replay, TheSameTwiceDiffersByNothing) {
  std::vector<ReplayOrder> orders;
  for (int64_t day = 0; day < 280; ++day) orders.push_back({day, 5 + day % 11});
  const ReplayError same = PairedError(orders, 7, orders, 7, 0, 279, 50, 1);
  EXPECT_EQ(same.lost, 0);
  const ReplayError other = PairedError(orders, 7, orders, 9, 0, 279, 50, 1);
  EXPECT_GT(other.lost, 0);
  EXPECT_EQ(PairedError(orders, 7, orders, 9, 0, 20, 50, 1).lost, 0);  // too short to tell
}

}  // namespace
}  // namespace ferrule::plan
