#include "core/plan/occupancy.h"

#include <gtest/gtest.h>

#include <cmath>
#include <numeric>

#include "core/plan/random.h"

namespace ferrule::plan {
namespace {

struct Branch {
  OccupancyInput input;
  std::vector<int> in_use;  // by day
};

// A synthetic branch of our own: bookings with leads, cancellations and late returns.
Branch Make(uint64_t seed, int days, double per_day) {
  Random random(seed);
  Branch branch;
  branch.in_use.assign(static_cast<size_t>(days) + 200, 0);
  for (int day = 0; day < days; ++day) {
    const double rate = day % 7 < 5 ? per_day * 1.4 : 0;
    for (int64_t k = random.Poisson(rate); k > 0; --k) {
      Booking b;
      b.surgery = day;
      b.booked = day - 2 - random.Poisson(random.Gamma(2, 10));
      b.prescribed_days = random.Uniform() < .3 ? 14 : 21;
      if (random.Uniform() < .1) {
        b.changed = std::max<int64_t>(b.booked, day - random.Poisson(8));
      } else {
        b.start = day + 1 + (random.Uniform() < .3);
        b.returned = b.start + b.prescribed_days + random.Poisson(random.Gamma(1, 2));
        b.ready = b.returned + 1 + random.Poisson(1);
        for (int64_t d = b.start; d < b.ready; ++d)
          if (d < static_cast<int64_t>(branch.in_use.size()))
            ++branch.in_use[static_cast<size_t>(d)];
      }
      branch.input.bookings.push_back(b);
    }
  }
  return branch;
}

TEST(UnitsInUse, IntervalsHoldTheTruthAsOftenAsTheySay) {
  double inside = 0, all = 0, error = 0;
  for (uint64_t seed = 1; seed <= 3; ++seed) {
    Branch branch = Make(seed, 1000, 2.5);
    branch.input.horizon = 42;
    for (int64_t now = 700; now <= 940; now += 24) {
      branch.input.now = now;
      const auto forecast = ForecastOccupancy(branch.input);
      ASSERT_EQ(forecast.size(), 1u);
      ASSERT_EQ(forecast[0].days.size(), 42u);
      for (size_t i = 0; i < 42; ++i) {
        const Pmf& units = forecast[0].days[i].units;
        const double y = branch.in_use[static_cast<size_t>(now) + i + 1];
        all += 1;
        inside += y >= SpreadQuantile(units, .1) && y <= SpreadQuantile(units, .9);
        error += (Mean(units) - y) / y;
        EXPECT_NEAR(std::accumulate(units.weight.begin(), units.weight.end(), 0.0), 1, 1e-12);
      }
    }
  }
  EXPECT_NEAR(inside / all, .8, .1);
  EXPECT_NEAR(error / all, 0, .05);
}

TEST(UnitsInUse, WhatComesLaterChangesNothing) {
  Branch branch = Make(9, 800, 1.5);
  branch.input.now = 600;
  branch.input.horizon = 20;
  const auto before = ForecastOccupancy(branch.input);
  for (Booking& b : branch.input.bookings) {
    if (b.booked > 600) b.device_class = 5;
    if (b.returned > 600 && b.returned != kNotYet) b.returned += 9;
    if (b.ready > 600 && b.ready != kNotYet) b.ready += 9;
    if (b.changed > 600) b.changed = kNotYet;
  }
  const auto after = ForecastOccupancy(branch.input);
  ASSERT_EQ(before.size(), after.size());
  for (size_t i = 0; i < 20; ++i)
    EXPECT_EQ(before[0].days[i].units.weight, after[0].days[i].units.weight);
}

TEST(UnitsInUse, TooLittleDataGivesAWideAnswerThatSaysSo) {
  OccupancyInput input;
  input.now = 20000;
  const auto none = ForecastOccupancy(input);
  ASSERT_EQ(none.size(), 1u);
  EXPECT_NE(none[0].basis.find("pooled"), std::string::npos);
  Booking one;  // a single rental, long overdue
  one.booked = 19900, one.surgery = 19901, one.start = 19902, one.prescribed_days = 14;
  input.bookings = {one};
  const auto some = ForecastOccupancy(input);
  for (const OccupancyDay& day : some[0].days) {
    EXPECT_TRUE(std::isfinite(Mean(day.units)));
    EXPECT_GT(day.out, 0);
    EXPECT_GT(day.to_come, 0);
    EXPECT_GT(Tail(day.units, 0), 0);
  }
}

TEST(UnitsInUse, RiskIsNamedForWhatItIs) {
  Branch branch = Make(2, 900, 2.5);
  branch.input.now = 800;
  const ClassOccupancy forecast = ForecastOccupancy(branch.input)[0];
  const int64_t units = UnitsForRisk(forecast, .05);
  const StockOut enough = RiskOf(forecast, units), fewer = RiskOf(forecast, units - 1);
  EXPECT_LE(enough.worst, .05);
  EXPECT_GT(fewer.worst, .05);
  EXPECT_GE(fewer.worst_day, 1);
  EXPECT_GT(fewer.unit_days_short, enough.unit_days_short);
}

}  // namespace
}  // namespace ferrule::plan
