#include "core/plan/simulation.h"

#include <gtest/gtest.h>

#include <cmath>

#include "core/plan/distributions.h"
#include "core/plan/pmf.h"

namespace ferrule::plan {
namespace {

// Synthetic: orders 6 6 6 6 4 0 0 a week; 14, 21 or 28 days with a late tail, then 2 days and a
// Poisson count of further ones.
SimulationInput Weekly(int paths) {
  SimulationInput input;
  const double week[] = {6, 6, 6, 6, 4, 0, 0};
  for (int t = 0; t < 365; ++t) input.orders.push_back(week[t % 7]);
  const Pmf late = PmfOf({3, .8}), turn = PmfOf({1.5});
  const Pmf length =
      Convolve(Convolve(Mix({Point(14), Point(21), Point(28)}, {.2, .6, .2}), late), turn);
  input.length_chance.assign(400, 0);
  for (size_t k = 0; k < length.weight.size(); ++k)
    if (const size_t day = static_cast<size_t>(length.first) + 2 + k; day < 400)
      input.length_chance[day] += length.weight[k];
  input.paths = paths;
  return input;
}

// Means by the convolution of orders and lengths; losses by an independent simulation of 2,000
// paths (about .0010 of scatter).
TEST(Simulation, MeansAndLossesOfAYear) {
  const SimulationInput input = Weekly(2000);
  const WantedPaths wanted = SimulateWanted(input);
  EXPECT_NEAR(wanted.mean[29], 104.9742840, 1);
  EXPECT_NEAR(wanted.mean[89], 109.7151463, 1);
  EXPECT_NEAR(wanted.mean[364], 106.6606308, 1);
  EXPECT_NEAR(wanted.variance[364] / wanted.mean[364], 1, .12);
  EXPECT_GT(wanted.ShortAtLeastOnce(125), .9);  // though no single day is worse than .14
  EXPECT_NEAR(SimulateLoss(input, 110).lost_share, .07565, .003);
  EXPECT_NEAR(SimulateLoss(input, 125).lost_share, .01631, .0015);
}

TEST(Simulation, TheSameSeedGivesTheSameOrdersToEveryFleet) {
  const SimulationInput input = Weekly(50);
  const LossResult few = SimulateLoss(input, 100), more = SimulateLoss(input, 101);
  EXPECT_EQ(few.orders, more.orders);
  EXPECT_GE(few.lost, more.lost);
  EXPECT_EQ(SimulateLoss(input, 100).lost, few.lost);
}

TEST(Simulation, ADoubtfulLevelSpreadsThePaths) {
  SimulationInput input = Weekly(400);
  const double sure = SimulateWanted(input).variance[200];
  input.level_doubt = .15;
  EXPECT_GT(SimulateWanted(input).variance[200], 1.8 * sure);
}

TEST(Simulation, NothingToSimulateIsNothing) {
  EXPECT_TRUE(SimulateWanted({}).mean.empty());
  EXPECT_EQ(SimulateLoss({}, 3).lost_share, 0);
  EXPECT_EQ(SimulateLoss(Weekly(5), 0).lost_share, 1);
}

}  // namespace
}  // namespace ferrule::plan
