#include "core/plan/fleet.h"

#include <gtest/gtest.h>

#include <cmath>
#include <numbers>

namespace ferrule::plan {
namespace {

Load Steady(double units, double orders, double doubt) {
  Load load;
  load.units.assign(10, units);
  load.orders.assign(10, orders);
  load.doubt = doubt;
  return load;
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

// A fleet from day to day, exactly: units come back, each with the same chance, then the day's
// orders take what is there. `out` units are in use before the first day.
struct Chain {
  std::vector<double> weekday_orders;
  double comes_back = .04;
  int out = 0;
  int days = 182;

  double LostWith(int units) const {
    const auto n = static_cast<size_t>(units);
    std::vector<double> in_use(n + 1, 0);
    in_use[static_cast<size_t>(out)] = 1;
    double lost = 0, orders = 0;
    for (int day = 0; day < days; ++day) {
      std::vector<double> morning(n + 1, 0);
      for (size_t i = 0; i <= n; ++i) {
        double chance = in_use[i] * std::pow(1 - comes_back, static_cast<double>(i));
        for (size_t back = 0; back <= i; ++back) {  // binomial
          morning[i - back] += chance;
          chance *= static_cast<double>(i - back) / static_cast<double>(back + 1) * comes_back /
                    (1 - comes_back);
        }
      }
      const double mean = Orders(day);
      orders += mean;
      in_use.assign(n + 1, 0);
      double chance = std::exp(-mean);
      for (size_t k = 0; k < 60; chance *= mean / static_cast<double>(++k))
        for (size_t i = 0; i <= n; ++i) {
          in_use[std::min(n, i + k)] += chance * morning[i];
          if (i + k > n) lost += chance * morning[i] * static_cast<double>(i + k - n);
        }
    }
    return lost / orders;
  }

  Load AsLoad() const {
    Load load;
    load.unmet = kUnmetOfWholeDays;
    double coming = 0, still = 1;
    for (int day = 0; day < days; ++day) {
      still *= 1 - comes_back;
      coming = coming * (1 - comes_back) + Orders(day);
      load.known.push_back({out * still, out * still * (1 - still), 0});
      load.units.push_back(out * still + coming);
      load.orders.push_back(Orders(day));
    }
    return load;
  }

  double Orders(int day) const {
    return weekday_orders[static_cast<size_t>(day) % weekday_orders.size()];
  }
};

// The day's orders come at once, and the first weeks begin with what is out today: a formula that
// takes each day's load for a stream of its own is too high by up to 26 % here, a unit of 30.
TEST(FleetSize, LostOrdersAreThoseOfTheExactChain) {
  const std::vector<double> week = {2, 1.9, 1.8, 1.1, .5, 0, 0};
  std::vector<double> small = week;
  for (double& orders : small) orders *= .15;
  const struct {
    Chain chain;
    std::vector<int> fleets;
  } rows[] = {{{{1.2}, .04, 20, 182}, {32, 34, 37}}, {{{1.2}, .04, 30, 182}, {34, 37}},
              {{week, .04, 15, 182}, {30, 34}},      {{week, .04, 26, 182}, {32, 34}},
              {{small, .04, 2, 182}, {6, 8}},        {{small, .04, 5, 182}, {6, 8}}};
  for (const auto& row : rows)
    for (int units : row.fleets) {
      const double exact = row.chain.LostWith(units), told = LostShare(row.chain.AsLoad(), units);
      EXPECT_NEAR(told / exact, 1, .08)
          << row.chain.out << " out, " << units << " units: " << exact;
    }
}

// What is surely wanted takes units and nothing else.
TEST(FleetSize, OfWhatIsSureNothingIsLeftToChance) {
  Load load = Steady(10, 1, 0);
  load.known.assign(10, {10, 0, 1});
  EXPECT_EQ(LostShare(load, 11), 0);
  EXPECT_EQ(LostShare(load, 9), 1);
  load.doubt = .5;
  EXPECT_EQ(LostShare(load, 11), 0);
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
