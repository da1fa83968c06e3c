#include "core/promise/matching.h"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <random>
#include <set>

namespace ferrule::promise {
namespace {

using ::testing::ElementsAre;

TEST(Matching, OfNothingMatchesNobody) {
  EXPECT_TRUE(LargestMatching(0, 3, {}).empty());
  EXPECT_THAT(LargestMatching(2, 3, {}), ElementsAre(kUnmatched, kUnmatched));
}

TEST(Matching, MovesTheFirstOutOfTheWayOfTheSecond) {
  // Taken one after the other, 0 would take unit 0 and 1 would go without.
  EXPECT_THAT(LargestMatching(2, 2, {{0, 0}, {0, 1}, {1, 0}}), ElementsAre(1, 0));
}

TEST(Matching, LeavesOutOnlyWhomNoUnitIsLeftFor) {
  const std::vector<int> mate = LargestMatching(3, 2, {{0, 0}, {1, 0}, {1, 1}, {2, 1}});
  int without = 0;
  for (int m : mate) without += m == kUnmatched;
  EXPECT_EQ(without, 1);
}

// The greatest number of pairs by trying all ways.
int Most(size_t left, const std::vector<std::pair<int, int>>& edges, size_t from,
         std::set<int>* taken) {
  if (from == left) return 0;
  int most = Most(left, edges, from + 1, taken);
  for (const auto& [l, r] : edges) {
    if (l != static_cast<int>(from) || !taken->insert(r).second) continue;
    most = std::max(most, 1 + Most(left, edges, from + 1, taken));
    taken->erase(r);
  }
  return most;
}

TEST(Matching, IsAsLargeAsTryingAllWaysFinds) {
  std::mt19937_64 random(11);
  for (int round = 0; round < 300; ++round) {
    const size_t left = 1 + random() % 6;
    const size_t right = 1 + random() % 6;
    std::vector<std::pair<int, int>> edges;
    for (size_t l = 0; l < left; ++l) {
      for (size_t r = 0; r < right; ++r) {
        if (random() % 3 == 0) edges.emplace_back(static_cast<int>(l), static_cast<int>(r));
      }
    }
    const std::vector<int> mate = LargestMatching(left, right, edges);
    std::set<int> used;
    int pairs = 0;
    for (size_t l = 0; l < left; ++l) {
      if (mate[l] == kUnmatched) continue;
      ++pairs;
      EXPECT_TRUE(used.insert(mate[l]).second) << "a unit serves two";
      EXPECT_NE(std::find(edges.begin(), edges.end(), std::pair(static_cast<int>(l), mate[l])),
                edges.end());
    }
    std::set<int> taken;
    EXPECT_EQ(pairs, Most(left, edges, 0, &taken));
  }
}

}  // namespace
}  // namespace ferrule::promise
