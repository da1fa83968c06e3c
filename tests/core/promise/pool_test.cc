#include "core/promise/pool.h"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <random>

namespace ferrule::promise {
namespace {

using ::testing::ElementsAre;

PoolUnit Unit(const std::string& unit, double odds) { return {unit, {odds}, true, 0}; }
PoolUnit ReadyFrom(const std::string& unit, size_t day) {
  std::vector<double> ready(day + 1, 0);
  ready[day] = 1;
  return {unit, ready, true, 0};
}

Claim On(const std::string& order, int unit, int64_t from, int64_t through, int64_t rank) {
  Claim claim;
  claim.order = order;
  claim.unit = unit;
  claim.from = from;
  claim.through = through;
  claim.rank = rank;
  claim.again = {0, 0, 0, 1};  // ready again three days after the first
  return claim;
}

Wish Of(int64_t from, int64_t through, int count = 1) {
  Wish wish;
  wish.from = from;
  wish.through = through;
  wish.count = count;
  return wish;
}

// Three due-backs ready in time with 0.85, 0.70 and 0.40: at least one 0.973, at least two 0.739
// (arithmetic: 1 - .15 x .30 x .60, and that less the chances of exactly one).
TEST(PromisePool, AnswersTheQuestionOfTheThreeDueBacks) {
  const Pool pool(0, {Unit("A", .85), Unit("B", .70), Unit("C", .40)}, {});
  EXPECT_NEAR(pool.Odds(Of(14, 34)), 0.973, 1e-12);
  EXPECT_NEAR(pool.Odds(Of(14, 34, 2)), 0.739, 1e-12);
  EXPECT_NEAR(pool.Odds(Of(14, 34, 3)), 0.238, 1e-12);
  EXPECT_NEAR(pool.Odds(Of(14, 34, 4)), 0, 1e-12);
  // One of them promised to somebody else leaves the odds of two.
  const Pool promised(0, {Unit("A", .85), Unit("B", .70), Unit("C", .40)},
                      {On("R-1", 0, 14, 34, 0)});
  EXPECT_NEAR(promised.Odds(Of(14, 34)), 0.739, 1e-12);
  EXPECT_NEAR(promised.OddsOf(0), 0.973, 1e-12);
}

TEST(PromisePool, CountsClaimsOnlyOnTheirDays) {
  const Pool pool(0, {Unit("A", 1)}, {On("R-1", 0, 10, 20, 0)});
  EXPECT_EQ(pool.Odds(Of(1, 9)), 1);
  EXPECT_EQ(pool.Odds(Of(5, 12)), 0) << "the claim begins while the wish goes on";
  EXPECT_EQ(pool.Odds(Of(20, 30)), 0);
  EXPECT_EQ(pool.Odds(Of(21, 30)), 1) << "ready again after the claim";
}

TEST(PromisePool, KnowsThatAUnitComesBackAfterAClaim) {
  Claim claim = On("R-1", 0, 2, 4, 0);
  claim.again = {0, 0, 0, 0.5, 0.75, 1};
  const Pool pool(0, {Unit("A", 0.8)}, {claim});
  EXPECT_NEAR(pool.ReadyOn(0, 2), 0.8, 1e-12) << "for the claim itself";
  EXPECT_NEAR(pool.ReadyOn(0, 5), 0.4, 1e-12);
  EXPECT_NEAR(pool.ReadyOn(0, 6), 0.6, 1e-12);
  EXPECT_NEAR(pool.ReadyOn(0, 60), 0.8, 1e-12);
}

TEST(PromisePool, ServesTheOneBeforeFirst) {
  const Pool pool(0, {Unit("A", 1)}, {On("R-1", kNoUnit, 5, 10, 3)});
  Wish before = Of(5, 10);
  before.rank = 2;
  EXPECT_EQ(pool.Odds(before), 1) << "the one who waits comes after";
  EXPECT_EQ(pool.Odds(Of(5, 10)), 0) << "the one who waits comes first";
}

TEST(PromisePool, TakesTheLikeliestUnitWhoseDaysAreFree) {
  const Pool pool(0, {Unit("A", 1), Unit("B", .9), Unit("C", .8)}, {On("R-1", 0, 3, 9, 0)});
  EXPECT_THAT(pool.Place(Of(5, 8))->units, ElementsAre(1));
  EXPECT_THAT(pool.Place(Of(10, 12))->units, ElementsAre(0));
  EXPECT_THAT(pool.Place(Of(5, 8, 2))->units, ElementsAre(1, 2));
  EXPECT_FALSE(pool.Place(Of(5, 8, 3)).has_value());
}

TEST(PromisePool, PrefersByWordsWhereTheOddsAreEven) {
  std::vector<PoolUnit> units = {Unit("A", 1), Unit("B", 1)};
  units[0].preference = 1;
  EXPECT_THAT(Pool(0, units, {}).Place(Of(1, 2))->units, ElementsAre(1));
}

TEST(PromisePool, MovesAPromiseSoThatAnotherCanBeKept) {
  // A is free from day 0, B from day 10. R-1 stands on A though it needs none before day 12.
  const Pool pool(0, {ReadyFrom("A", 0), ReadyFrom("B", 10)}, {On("R-1", 0, 12, 20, 0)});
  const auto placing = pool.Place(Of(5, 15));
  ASSERT_TRUE(placing.has_value());
  EXPECT_THAT(placing->units, ElementsAre(0));
  ASSERT_EQ(placing->changes.size(), 1u);
  EXPECT_EQ(placing->changes[0].claim, 0);
  EXPECT_EQ(placing->changes[0].to_unit, 1);
}

TEST(PromisePool, LeavesAUnitThatStandsOnTheShelfForAnOrder) {
  Claim held = On("R-1", 0, 0, 20, 0);
  held.bound = true;
  const Pool pool(0, {ReadyFrom("A", 0), ReadyFrom("B", 10)}, {held});
  EXPECT_FALSE(pool.Place(Of(5, 15)).has_value());
}

TEST(PromisePool, DoesNotCountClaimsThatOtherUnitsServe) {
  std::vector<PoolUnit> units = {Unit("A", 1), Unit("B", 1)};
  units[1].eligible = false;
  EXPECT_EQ(Pool(0, units, {On("R-1", 1, 5, 9, 0)}).Odds(Of(5, 9)), 1);
  EXPECT_EQ(Pool(0, units, {On("R-1", kNoUnit, 5, 9, 0)}).Odds(Of(5, 9)), 1);
  EXPECT_EQ(Pool(0, units, {On("R-1", 0, 5, 9, 0), On("R-2", 1, 5, 9, 1)}).Odds(Of(5, 9)), 0);
}

TEST(PromisePool, FindsTheFirstDay) {
  const Pool pool(0, {ReadyFrom("A", 7)}, {});
  EXPECT_EQ(pool.Earliest(Of(2, 10), 0.95, 60), 7);
  EXPECT_EQ(pool.Earliest(Of(9, 10), 0.95, 60), 9);
  EXPECT_EQ(pool.Earliest(Of(2, 10), 0.95, 6), std::nullopt);
}

// The odds against drawing lots: units come back or not, claims are served in their order.
TEST(PromisePool, OddsAgreeWithDrawingLots) {
  std::mt19937_64 random(5);
  std::uniform_real_distribution<double> uniform(0, 1);
  for (int round = 0; round < 20; ++round) {
    std::vector<PoolUnit> units;
    const size_t count = 2 + random() % 6;
    for (size_t u = 0; u < count; ++u) {
      units.push_back(Unit(std::to_string(u), uniform(random)));
    }
    std::vector<Claim> claims;
    const size_t claimed = random() % count;
    for (size_t c = 0; c < claimed; ++c) {
      claims.push_back(On("R", static_cast<int>(c), 4, 9, static_cast<int64_t>(c)));
    }
    const double told = Pool(0, units, claims).Odds(Of(5, 8));
    constexpr int kDraws = 20'000;
    int kept = 0;
    for (int draw = 0; draw < kDraws; ++draw) {
      size_t ready = 0;
      for (const PoolUnit& unit : units) ready += uniform(random) < unit.ready[0] ? 1 : 0;
      kept += ready > claimed ? 1 : 0;
    }
    EXPECT_NEAR(told, static_cast<double>(kept) / kDraws, 0.015);
  }
}

// A wish is placed only where no two claims of one unit share a day, whatever moved.
TEST(PromisePool, NeverPlacesTwoOnOneDay) {
  std::mt19937_64 random(9);
  for (int round = 0; round < 300; ++round) {
    std::vector<PoolUnit> units;
    for (size_t u = 0; u < 4; ++u) units.push_back(ReadyFrom(std::to_string(u), random() % 10));
    std::vector<Claim> claims;
    for (int u = 0; u < 4; ++u) {
      int64_t from = static_cast<int64_t>(random() % 12);
      for (int k = 0; k < 2; ++k) {
        claims.push_back(On("R", u, from, from + 5, static_cast<int64_t>(claims.size())));
        from += 7 + static_cast<int64_t>(random() % 6);
      }
    }
    const Pool pool(0, units, claims);
    const int64_t from = static_cast<int64_t>(random() % 20);
    const auto placing = pool.Place(Of(from, from + 6));
    if (!placing) continue;
    for (const Change& change : placing->changes) {
      claims[static_cast<size_t>(change.claim)].unit = change.to_unit;
    }
    claims.push_back(On("new", placing->units.front(), from, from + 6, 99));
    for (size_t a = 0; a < claims.size(); ++a) {
      for (size_t b = a + 1; b < claims.size(); ++b) {
        const bool shares =
            claims[a].from <= claims[b].through && claims[b].from <= claims[a].through;
        EXPECT_FALSE(claims[a].unit == claims[b].unit && shares);
      }
    }
  }
}

}  // namespace
}  // namespace ferrule::promise
