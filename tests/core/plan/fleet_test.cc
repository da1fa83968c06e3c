#include "core/plan/fleet.h"

#include <gtest/gtest.h>

#include <cmath>
#include <numbers>

namespace ferrule::plan {
namespace {

Load Steady(double units, double orders, double doubt) {
  return {std::vector<double>(10, units), std::vector<double>(10, orders), doubt};
}

// Load 84, rent 12, cost 1.8 a day: 100 units when orders are lost, 94 when days are hired in at
// the rent; profit 818.048491162 a day. Computed from the loss formula and R 4.2.2 qpois.
TEST(FleetSize, RulesDifferByWhatBecomesOfAnOrder) {
  const UnitMoney money{12, 1.8, 12};
  const Load load = Steady(84, 4, 0);
  const FleetAnswer answer = SizeFleet(load, {PmfOf({84})}, .01, .05, money);
  EXPECT_EQ(answer.by_lost_share, 100);
  EXPECT_EQ(answer.by_money_lost, 100);
  EXPECT_EQ(answer.by_money_hired, 94);
  EXPECT_EQ(answer.by_short_days, 99);  // R 4.2.2 qpois(.95, 84)
  EXPECT_NEAR(LostOrdersProfit(load, 100, money), 818.048491162, 1e-8);
  EXPECT_NEAR(LostOrdersProfit(load, 99, money), 817.834839277, 1e-8);
}

TEST(FleetSize, AnUncertainLevelNeedsMoreUnits) {
  EXPECT_GT(LostShare(Steady(84, 4, .1), 100), 1.5 * LostShare(Steady(84, 4, 0), 100));
  const FleetAnswer doubt = SizeFleet(Steady(84, 4, .1), {}, .01, .05, {12, 1.8, 12});
  EXPECT_GT(doubt.by_lost_share, 102);
}

// Orders 4 (1 + .3 sin) a day over a year, exponential lengths of mean 21, 100 units: the loss
// share by modified offered load is .04607777, against .04789958 exact (forward equations).
TEST(FleetSize, AYearsSeasonCostsMoreThanItsMean) {
  Load load;
  const double g = 2 * std::numbers::pi / 365.25, mu = 1.0 / 21;
  for (int t = 0; t < 36525; ++t) {
    const double at = t / 100.0;
    load.orders.push_back(4 * (1 + .3 * std::sin(g * at)));
    load.units.push_back(4 / mu +
                         1.2 * (mu * std::sin(g * at) - g * std::cos(g * at)) / (mu * mu + g * g));
  }
  EXPECT_NEAR(load.units[0], 84 + .6 * (70.578940184 - 84), 1e-6);
  EXPECT_NEAR(LostShare(load, 100), .04607777, 2e-5);
}

TEST(FleetSize, CostOfAUnitPerDay) {
  EXPECT_NEAR(CostPerDay(3650, 0, 10, 0, .5), 1.5, 1e-12);
  // Capital recovery of 1 over 10 years at 5 %: .1295046 (annuity tables).
  EXPECT_NEAR(CostPerDay(365, 0, 10, .05, 0), .1295046, 1e-7);
  EXPECT_LT(CostPerDay(365, 100, 10, .05, 0), .1295046);
}

TEST(FleetSize, ABudgetBuysWhereItBringsMost) {
  EXPECT_EQ(SpendBudget({{10, 4, 1}, {9, 8, 0}}, {1, 2}, 5), (std::vector<int>{3, 1}));
  EXPECT_EQ(SpendBudget({{10, 4, -1}}, {1}, 9), (std::vector<int>{2}));
  EXPECT_EQ(SpendBudget({}, {}, 9), std::vector<int>{});
}

TEST(FleetSize, NoDemandNeedsNoUnits) {
  const FleetAnswer answer = SizeFleet({}, {}, .01, .05, {12, 1.8, 12});
  EXPECT_EQ(answer.by_lost_share, 0);
  EXPECT_EQ(answer.by_money_lost, 0);
  EXPECT_EQ(answer.by_short_days, 0);
}

}  // namespace
}  // namespace ferrule::plan
