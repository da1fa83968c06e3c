#include "core/plan/order_rate.h"

#include <gtest/gtest.h>

#include <algorithm>
#include <cmath>

#include "core/plan/random.h"

namespace ferrule::plan {
namespace {

constexpr size_t kPast = 1095, kAhead = 56;

// From a Monday on; weekends closed, a season of the given log size.
OrderStream Draw(uint64_t seed, double per_day, double season) {
  OrderStream stream;
  stream.first = 4;
  Random random(seed);
  for (size_t t = 0; t < kPast; ++t) {
    const double rate =
        per_day * std::exp(season * std::sin(2 * 3.14159265 * static_cast<double>(4 + t) / 365.25));
    stream.counts.push_back(t % 7 < 5 ? static_cast<double>(random.Poisson(rate * 1.4)) : 0);
  }
  return stream;
}

OrderStream Sum(const OrderStream& a, const OrderStream& b) {
  OrderStream sum = a;
  for (size_t t = 0; t < kPast; ++t) sum.counts[t] += b.counts[t];
  return sum;
}

double Ahead(const OrderRate& rate) {
  double sum = 0;
  for (size_t t = kPast; t < kPast + kAhead; ++t) sum += rate.expected[t];
  return sum;
}

TEST(OrdersExpected, AThinClassHasTheBranchsPatternAtItsShare) {
  const OrderStream many = Draw(1, 5, .1), few = Draw(2, .1, .1);
  const OrderRates rates(Sum(many, few), {}, kAhead);
  const OrderRate one = rates.Of(few), all = rates.Of(Sum(many, few));
  ASSERT_EQ(one.expected.size(), kPast + kAhead);
  EXPECT_NEAR(Ahead(one) / Ahead(all), few.Total() / (many.Total() + few.Total()), .006);
  EXPECT_LT(one.expected[kPast + 5 - kPast % 7 + 7], .05);  // a Saturday
}

TEST(OrdersExpected, FewOrdersAreInMoreDoubt) {
  const OrderStream many = Draw(1, 5, .1), few = Draw(2, .3, .1);
  const OrderRates rates(Sum(many, few), {}, kAhead);
  const OrderRate thin = rates.Of(few), thick = rates.Of(many);
  ASSERT_EQ(thin.blocks_ahead, 8u);
  ASSERT_EQ(thin.covariance.size(), 64u);
  for (size_t i = 0; i < 8; ++i) {
    EXPECT_GT(thin.covariance[i * 9], thick.covariance[i * 9]);
    EXPECT_GE(thin.covariance[i * 9], 1 / few.Total());
    EXPECT_LT(std::sqrt(thin.covariance[i * 9]), .3);
  }
}

// How far apart, in logs, the fullest and the emptiest four weeks of the last year are expected.
double YearlyRange(const OrderRate& rate) {
  double most = 0, least = 1e300;
  for (size_t t = kPast - 364; t + 28 <= kPast; t += 28) {
    double sum = 0;
    for (size_t i = t; i < t + 28; ++i) sum += rate.expected[i];
    most = std::max(most, sum), least = std::min(least, sum);
  }
  return std::log(most / least);
}

TEST(OrdersExpected, ASeasonIsFollowedAsFarAsTheOrdersShowOne) {
  double none = 0, some = 0;
  for (uint64_t seed = 1; seed <= 20; ++seed) {
    const OrderStream flat = Draw(seed, .4, 0), strong = Draw(seed, 5, .2);
    none += YearlyRange(OrderRates(flat, {}, kAhead).Of(flat)) / 20;
    some += YearlyRange(OrderRates(strong, {}, kAhead).Of(strong)) / 20;
  }
  EXPECT_LT(none, .05);
  EXPECT_NEAR(some, .39, .05);
}

// Orders that are expected of the weeks ahead, level included.
double Coming(const OrderStream& stream) {
  const OrderRates rates(stream, {}, kAhead);
  const OrderRate rate = rates.Of(stream);
  const std::vector<LevelBlock> blocks = BlocksOf(stream, rate.expected, rate.blocks_ahead);
  const OrderLevel level =
      FollowOrders(stream, rate.expected, blocks, rate.blocks_ahead, rates.laws());
  double sum = 0;
  for (size_t i = 0; i < kAhead; ++i)
    sum += rate.expected[stream.counts.size() + i] *
           level.level.Mean(blocks.size() - rate.blocks_ahead + i / kDaysPerBlock);
  return sum;
}

// Half an order a day for eight years, `before` times as many until a year ago.
OrderStream EightYears(uint64_t seed, double before) {
  constexpr int64_t kNow = 20'000;
  Random random(seed);
  std::vector<Booking> known;
  for (int64_t ago = 8 * 365; ago >= 0; --ago)
    for (int64_t n = random.Poisson(ago >= 365 ? .5 * before : .5); n > 0; --n)
      known.push_back({.booked = kNow - ago, .surgery = kNow - ago});
  return StreamOf(known, TellSides(known, kNow, 1), kNow, -1);
}

// Three years of such orders tell the rate within 1 / sqrt(547) = 4.3 %, eight within 2.6 %; three,
// with a season and growth to be told, within 6.3 % (seen).
TEST(OrdersExpected, OldOrdersTellOfALevelThatStoodStillAndNotOfOneThatMoved) {
  double still = 0, moved = 0, days = 0, days_moved = 0;
  for (uint64_t seed = 1; seed <= 20; ++seed) {
    const OrderStream same = EightYears(seed, 1), less = EightYears(seed, .4);
    still += std::pow(std::log(Coming(same) / (.5 * kAhead)), 2) / 20;
    moved += std::log(Coming(less) / (.5 * kAhead)) / 20;
    days += static_cast<double>(same.counts.size()) / 20;
    days_moved += static_cast<double>(less.counts.size()) / 20;
  }
  EXPECT_LT(std::sqrt(still), .058);
  EXPECT_GT(days, 7.5 * 365);
  EXPECT_NEAR(moved, 0, .16);
  EXPECT_LT(days_moved, 4 * 365);
}

// trigamma(1/2) = pi^2 / 2 (Abramowitz and Stegun 6.4.4): more than nothing cannot be in doubt.
TEST(OrdersExpected, NothingKnownIsNoNumberLost) {
  for (const size_t days : {1u, 60u, 400u, 1095u}) {
    OrderStream none;
    none.counts.assign(days, 0);
    OrderStream one = none;
    one.counts[0] = 1;
    for (const OrderStream& branch : {none, one}) {
      const OrderRates rates(branch, {}, 56);
      for (const OrderStream& own : {none, one}) {
        const OrderRate rate = rates.Of(own);
        for (double e : rate.expected) EXPECT_GT(e, 0);
        for (double c : rate.covariance) EXPECT_LE(std::abs(c), 4.9349);
      }
    }
  }
}

TEST(OrdersExpected, BlocksEndWithTheLastDay) {
  OrderStream stream;
  stream.counts = {9, 1, 1, 1, 1, 1, 1, 1, 2, 0, 0, 0, 0, 0, 0};
  const std::vector<LevelBlock> blocks = BlocksOf(stream, std::vector<double>(30, .5), 2);
  ASSERT_EQ(blocks.size(), 4u);
  EXPECT_EQ(blocks[0].counted, 7);
  EXPECT_EQ(blocks[1].counted, 2);
  EXPECT_EQ(blocks[1].expected, 3.5);
  EXPECT_EQ(blocks[3].expected, 0);
}

// Orders of one a day, each booked 40 days before, on record from day 1000 on: the surgeries of the
// first 40 days were booked before that and are missing. They are no growth.
TEST(OrdersExpected, TheFirstDaysOnRecordAreLeftOut) {
  std::vector<Booking> known;
  for (int64_t booked = 1000; booked < 1500; ++booked) {
    Booking b;
    b.booked = booked;
    b.surgery = booked + (booked % 10 == 0 ? 2 : 40);
    known.push_back(b);
  }
  const SidesOf sides = TellSides(known, 1450, 1);
  const OrderStream stream = StreamOf(known, sides, 1450, 0);
  EXPECT_EQ(stream.first, 1040);
  EXPECT_NEAR(stream.Total() / static_cast<double>(stream.counts.size()), 1, .05);
  // A young branch keeps three quarters of its days.
  const OrderStream young = StreamOf(known, sides, 1060, 0);
  EXPECT_EQ(young.first, 1015);
}

}  // namespace
}  // namespace ferrule::plan
