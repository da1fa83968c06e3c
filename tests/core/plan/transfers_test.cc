#include "core/plan/transfers.h"

#include <algorithm>

#include "core/plan/random.h"
#include "gtest/gtest.h"

namespace ferrule::plan {
namespace {

TEST(Transfers, NothingMovesWhenNothingPays) {
  EXPECT_TRUE(PlanTransfers({}, {}).moves.empty());
  EXPECT_TRUE(PlanTransfers({{{0}, {}}, {{}, {5}}}, {}).moves.empty());  // no lane
  EXPECT_TRUE(PlanTransfers({{{0}, {}}, {{}, {5}}}, {{0, 1, 5}}).moves.empty());
  EXPECT_TRUE(PlanTransfers({{{3}, {}}, {{}, {5}}}, {{0, 1, 3}}).moves.empty());
  EXPECT_TRUE(PlanTransfers({{{0}, {}}, {{}, {5}}}, {{0, 7, 1}, {0, 0, 0}}).moves.empty());
}

TEST(Transfers, UnitsMoveWhileTheNextOnePays) {
  // Gains 9, 6, 2 at a cost of 3 and losses 0, 1, 1: the first two pay 6 and 2, the third would
  // lose 2.
  const TransferPlan plan = PlanTransfers({{{0, 1, 1}, {}}, {{}, {9, 6, 2}}}, {{0, 1, 3}});
  ASSERT_EQ(plan.moves.size(), 1u);
  EXPECT_EQ(plan.moves[0].units, 2);
  EXPECT_NEAR(plan.saved, 6 + 2, 1e-9);
}

TEST(Transfers, TheCheaperSenderGoesFirst) {
  const TransferPlan plan =
      PlanTransfers({{{0}, {}}, {{0, 0}, {}}, {{}, {10, 10}}}, {{0, 2, 4}, {1, 2, 1}});
  ASSERT_EQ(plan.moves.size(), 1u);
  EXPECT_EQ(plan.moves[0].from, 1u);
  EXPECT_EQ(plan.moves[0].units, 2);
  EXPECT_NEAR(plan.saved, 18, 1e-9);
}

// Every way of sending up to two units from each of two senders to each of two receivers.
double BestByTrying(const std::vector<TransferPlace>& places,
                    const std::vector<TransferLane>& lanes) {
  double best = 0;
  for (int code = 0; code < 81; ++code) {
    int rest = code;
    std::vector<int> flow;
    for (size_t l = 0; l < 4; ++l, rest /= 3) flow.push_back(rest % 3);
    std::vector<size_t> gives(4, 0), gets(4, 0);
    double saved = 0;
    bool possible = true;
    for (size_t l = 0; l < 4; ++l)
      for (int k = 0; k < flow[l] && possible; ++k) {
        const TransferPlace &from = places[lanes[l].from], &to = places[lanes[l].to];
        possible = gives[lanes[l].from] < from.loss.size() && gets[lanes[l].to] < to.gain.size();
        if (!possible) break;
        saved += to.gain[gets[lanes[l].to]++] - from.loss[gives[lanes[l].from]++] - lanes[l].cost;
      }
    if (possible) best = std::max(best, saved);
  }
  return best;
}

TEST(Transfers, AreTheBestOfAllWays) {
  Random random(7);
  for (int round = 0; round < 200; ++round) {
    std::vector<TransferPlace> places(4);
    for (size_t p = 0; p < 4; ++p) {
      std::vector<double> values = {random.Uniform() * 5, random.Uniform() * 5};
      std::sort(values.begin(), values.end());
      if (p < 2) {
        places[p].loss = values;
      } else {
        places[p].gain = {values[1] * 2, values[0] * 2};
      }
    }
    std::vector<TransferLane> lanes;
    for (size_t from = 0; from < 2; ++from)
      for (size_t to = 2; to < 4; ++to) lanes.push_back({from, to, random.Uniform() * 4});
    EXPECT_NEAR(PlanTransfers(places, lanes).saved, BestByTrying(places, lanes), 1e-4) << round;
  }
}

}  // namespace
}  // namespace ferrule::plan
