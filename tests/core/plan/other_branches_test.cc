// What the branches of a depot tell about each other, on streams whose truth is known.
#include "core/plan/other_branches.h"

#include <gtest/gtest.h>

#include <cmath>
#include <numbers>
#include <vector>

#include "core/plan/random.h"

namespace ferrule::plan {
namespace {

constexpr int64_t kNow = 20'453;
constexpr int kDays = 730;
constexpr int kAhead = 182;
constexpr int kBranches = 8;

struct Truth {
  double per_day = .7;
  double season = 0;  // of the log rate, a sine over the year
  double step = 0;    // of a level that returns by a tenth a week
  int64_t days = kDays;
};

double Season(const Truth& truth, int64_t day) {
  return std::exp(truth.season *
                  std::sin(2 * std::numbers::pi * static_cast<double>(day) / 365.25));
}

OccupancyInput Draw(const Truth& truth, uint64_t seed) {
  Random random(seed);
  OccupancyInput input;
  input.now = kNow;
  double level = 0;
  for (int64_t day = kNow - truth.days + 1; day <= kNow; ++day) {
    if (day % 7 == 0) level = .9 * level + truth.step * random.Normal();
    const double rate = truth.per_day * Season(truth, day) * std::exp(level);
    for (int64_t n = random.Poisson(Weekday(day) < 5 ? 1.4 * rate : 0); n > 0; --n) {
      Booking b;
      b.id = input.bookings.size() + 1;
      b.booked = b.surgery = day;
      b.start = day + 1;
      b.returned = b.start + 20;
      b.ready = b.returned + 2;
      input.bookings.push_back(b);
    }
  }
  return input;
}

std::vector<OccupancyInput> Depot(const Truth& truth, uint64_t seed) {
  std::vector<OccupancyInput> inputs;
  for (uint64_t b = 0; b < kBranches; ++b) inputs.push_back(Draw(truth, seed * 100 + b));
  return inputs;
}

std::vector<OtherBranches> Tell(const std::vector<OccupancyInput>& inputs) {
  std::vector<const OccupancyInput*> all;
  for (const OccupancyInput& input : inputs) all.push_back(&input);
  return TellOthers(all);
}

OrderStream OrdersOf(const OccupancyInput& input) {
  return StreamOf(input.bookings, TellSides(input.bookings, kNow, 1), kNow, -1);
}

// Root mean square of the error of the log of the orders expected in coming weeks.
double Error(const OccupancyInput& input, const OtherBranches& others, const Truth& truth) {
  const OrderStream own = OrdersOf(input);
  const OrderRate rate = OrderRates(own, {}, kAhead, others).Of(own);
  double squares = 0;
  for (size_t w = 0; w < kAhead / 7; ++w) {
    double expected = 0, right = 0;
    for (size_t d = w * 7; d < w * 7 + 7; ++d) {
      const int64_t day = kNow + 1 + static_cast<int64_t>(d);
      expected += rate.expected[own.counts.size() + d];
      right += Weekday(day) < 5 ? 1.4 * truth.per_day * Season(truth, day) : 0;
    }
    squares += std::pow(std::log(expected / right), 2) / (kAhead / 7);
  }
  return std::sqrt(squares);
}

double MeanError(const Truth& truth, bool together) {
  double sum = 0;
  for (uint64_t seed = 1; seed <= 3; ++seed) {
    const std::vector<OccupancyInput> inputs = Depot(truth, seed);
    const std::vector<OtherBranches> others = Tell(inputs);
    for (size_t b = 0; b < kBranches; ++b)
      sum += Error(inputs[b], together ? others[b] : OtherBranches{}, truth) / (3 * kBranches);
  }
  return sum;
}

TEST(OtherBranches, ASeasonThatNoneCanTellAloneIsToldByAll) {
  const Truth truth{.season = .15};
  const double alone = MeanError(truth, false), together = MeanError(truth, true);
  EXPECT_LT(together, .8 * alone);
  // What is left is what a branch's own two years of orders tell of its level.
  EXPECT_LT(together, 1.5 / std::sqrt(truth.per_day * kDays));
}

TEST(OtherBranches, WithoutASeasonNoneIsLearned) {
  EXPECT_LT(MeanError({}, true), MeanError({}, false) * 1.05);
}

// Doubt about the level of the last coming week.
double DoubtOf(const OccupancyInput& input, const OtherBranches& others) {
  const OrderStream own = OrdersOf(input);
  const OrderRates rates(own, {}, kAhead, others);
  const OrderRate rate = rates.Of(own);
  const OrderLevel level =
      FollowOrders(own, rate.expected, BlocksOf(own, rate.expected, rate.blocks_ahead),
                   rate.blocks_ahead, rates.laws());
  return level.level.Covariance(rate.blocks_ahead - 1, rate.blocks_ahead - 1);
}

TEST(OtherBranches, HowFarDemandWandersIsToldByAll) {
  const std::vector<OccupancyInput> still = Depot({}, 1), wandering = Depot({.step = .12}, 1);
  const double alone = DoubtOf(still[0], {});
  EXPECT_LT(DoubtOf(still[0], Tell(still)[0]), .7 * alone);
  EXPECT_GT(DoubtOf(still[0], Tell(wandering)[0]), 1.3 * alone);
}

TEST(OtherBranches, ABranchThatSpeaksForItselfKeepsItsOwnSeasonAndLevel) {
  const Truth strong{.per_day = 12, .season = .3};
  std::vector<OccupancyInput> inputs = Depot({.season = -.1}, 1);
  inputs[0] = Draw(strong, 77);
  EXPECT_LT(Error(inputs[0], Tell(inputs)[0], strong), .06);
  // One that is like the others' but ten times as large has its own level.
  const Truth large{.per_day = 7, .season = -.1};
  inputs[0] = Draw(large, 78);
  EXPECT_LT(Error(inputs[0], Tell(inputs)[0], large), .06);
}

double MeanAhead(const OrderPattern& pattern) {
  double sum = 0;
  for (size_t t = pattern.rate.expected.size() - kAhead; t < pattern.rate.expected.size(); ++t)
    sum += pattern.rate.expected[t] / kAhead;
  return sum;
}

TEST(OtherBranches, BranchesThatOpenedLaterAreNotTakenForGrowth) {
  const std::vector<OccupancyInput> inputs = {Draw({}, 1), Draw({.days = 300}, 2),
                                              Draw({.days = 690}, 3)};
  const std::vector<OtherBranches> others = Tell(inputs);
  ASSERT_NE(others[0].depot, nullptr);
  EXPECT_EQ(others[0].depot, others[1].depot);
  EXPECT_EQ(others[1].wandering.streams, 2);
  // The two that have been open for longest together count, from the younger one's first day on.
  const int64_t first = OrdersOf(inputs[0]).first;
  EXPECT_NEAR(MeanAhead(others[0].depot->PatternOf(first, kNow, kAhead, {})), 1.4, .15);
  for (const size_t b : {0u, 1u, 2u}) {
    const OrderStream own = OrdersOf(inputs[b]);
    const OrderRate rate = OrderRates(own, {}, kAhead, others[b]).Of(own);
    EXPECT_EQ(rate.expected.size(), own.counts.size() + kAhead);
    EXPECT_NEAR(MeanAhead({{}, rate, 0, 0}), .7, b == 1 ? .15 : .1);
  }
}

TEST(OtherBranches, WhatTheDepotTellsDoesNotDependOnWhoAskedBefore) {
  const std::vector<OccupancyInput> inputs = Depot({.season = .15}, 1);
  const OtherBranches fresh = Tell(inputs)[0];
  const std::vector<OtherBranches> asked = Tell(inputs);
  const OrderStream own = OrdersOf(inputs[0]);
  for (const OtherBranches& others : asked) {
    OrderRates(own, {own.first + 90}, kAhead, others);  // a holiday
    OrderRates(own, {}, 7, others);
    OrderRates({own.first + 30, {own.counts.begin() + 30, own.counts.end()}}, {}, kAhead, others);
    OrderRates({own.first, {own.counts.begin(), own.counts.end() - 100}}, {}, kAhead, others);
  }
  EXPECT_EQ(OrderRates(own, {}, kAhead, fresh).Of(own).expected,
            OrderRates(own, {}, kAhead, asked[0]).Of(own).expected);
}

TEST(OtherBranches, AYoungBranchLearnsTheSeasonOfOldOnes) {
  const Truth truth{.season = .3}, young{.per_day = 3, .season = .3, .days = 90};
  double alone = 0, together = 0;
  for (uint64_t seed = 1; seed <= 6; ++seed) {
    std::vector<OccupancyInput> inputs = Depot(truth, seed);
    inputs.push_back(Draw(young, 50 + seed));
    alone += Error(inputs.back(), {}, young) / 6;
    together += Error(inputs.back(), Tell(inputs).back(), young) / 6;
  }
  EXPECT_LT(together, .5 * alone);
  EXPECT_LT(together, .15);
}

TEST(OtherBranches, AloneABranchIsToldNothingAndNoOrdersAreNoTrouble) {
  const OccupancyInput one = Draw({}, 1);
  OccupancyInput none;
  none.now = kNow;
  EXPECT_TRUE(Tell({}).empty());
  const std::vector<OtherBranches> others = Tell({one, none});
  EXPECT_EQ(others[0].depot, nullptr);
  EXPECT_EQ(others[0].wandering.streams, 0);
  const OrderStream own = OrdersOf(one);
  EXPECT_EQ(OrderRates(own, {}, kAhead, others[0]).Of(own).expected,
            OrderRates(own, {}, kAhead).Of(own).expected);
  OccupancyInput empty = none;
  empty.others = others[1];
  const std::vector<ClassOccupancy> forecast = ForecastOccupancy(empty);
  for (const OccupancyDay& day : forecast[0].days) {
    EXPECT_TRUE(std::isfinite(Mean(day.units)));
    EXPECT_LT(Mean(day.units), 3);
  }
}

}  // namespace
}  // namespace ferrule::plan
