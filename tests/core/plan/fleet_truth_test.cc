// Fleet size out of recorded orders against the size that brute force finds when it knows the true
// law: thousands of futures of the real loss system.
#include <algorithm>
#include <cmath>
#include <iostream>

#include "core/plan/fleet.h"
#include "core/plan/occupancy.h"
#include "core/plan/random.h"
#include "gtest/gtest.h"

namespace ferrule::plan {
namespace {

constexpr int64_t kNow = 20'002;  // a Thursday
constexpr int kWindow = 182;
constexpr double kWeekday[] = {1.3, 1.3, 1.2, .8, .4, 0, 0};

struct Truth {
  double orders_a_day;
  double mean_turning;
};

double RateOn(const Truth& truth, int64_t day) {
  return truth.orders_a_day * kWeekday[(day + 3) % 7] * 7 / 5;
}

int64_t DrawRental(Random& random) {
  const double u = random.Uniform();
  const int64_t prescribed = u < .2 ? 14 : u < .85 ? 21 : 28;
  return prescribed + random.Poisson(1.5);
}

// Three years of orders with what came of them.
OccupancyInput Recorded(const Truth& truth, uint64_t seed) {
  OccupancyInput input;
  input.now = kNow;
  input.horizon = kWindow;
  Random random(seed, 77);
  uint64_t id = 1;
  for (int64_t day = kNow - 1095; day <= kNow + 40; ++day) {
    for (int64_t n = random.Poisson(RateOn(truth, day)); n > 0; --n) {
      Booking b;
      b.id = id++;
      b.booked = day - random.Poisson(12);
      b.surgery = day;
      const int64_t rental = DrawRental(random),
                    turning = 1 + random.Poisson(truth.mean_turning - 1);
      b.prescribed_days = rental >= 27 ? 28 : rental >= 20 ? 21 : 14;
      if (b.booked > kNow) continue;
      if (day <= kNow) {
        b.start = day + (random.Uniform() < .5 ? 1 : 0);
        b.returned = b.start + rental;
        b.ready = b.returned + turning;
      }
      input.bookings.push_back(b);
    }
  }
  return input;
}

// Share lost with so many units, by the true law, over windows that begin in the steady state.
double TrueLost(const Truth& truth, int64_t units) {
  double orders = 0, lost = 0;
  for (int path = 0; path < 400; ++path) {
    Random random(99, static_cast<uint64_t>(path));
    std::vector<int64_t> back(kWindow + 300, 0);
    int64_t in_use = 0;
    for (int day = 0; day < kWindow + 120; ++day) {
      in_use -= back[static_cast<size_t>(day)];
      for (int64_t n = random.Poisson(RateOn(truth, kNow + day)); n > 0; --n) {
        const int64_t length = DrawRental(random) + 1 + random.Poisson(truth.mean_turning - 1);
        if (day >= 120) orders += 1;
        if (in_use >= units) {
          if (day >= 120) lost += 1;
          continue;
        }
        ++in_use;
        ++back[static_cast<size_t>(std::min<int64_t>(day + length, kWindow + 299))];
      }
    }
  }
  return lost / orders;
}

int64_t TrueSize(const Truth& truth, double target) {
  int64_t units = 1;
  while (TrueLost(truth, units) > target) ++units;
  return units;
}

class FleetTruth : public ::testing::TestWithParam<Truth> {};

// The goal is one unit for every branch. What is reached: the middle answer over eleven branches of
// the same truth is right within one unit, and a single one is off by up to four. The size by the
// formula at the true rate is the right one, so the misses are the rate's: over 40 branches each,
// whoever knows all but the rate and takes it from the three years' orders is right within one unit
// on 39 (.3 orders a day) and 38 (.6), and so is the planner on 35 and 29. It also follows a level
// and a season, of which there is none here, and its answers lie higher by .3 and .6 units.
TEST_P(FleetTruth, IsFoundWithinOneUnitInTheMiddle) {
  const int64_t right = TrueSize(GetParam(), .02);
  std::vector<int64_t> found;
  for (uint64_t seed = 1; seed <= 11; ++seed) {
    const ClassOccupancy occupancy = ForecastOccupancy(Recorded(GetParam(), seed))[0];
    Load load;
    std::vector<Pmf> days;
    double units = 0, to_come = 0;
    for (size_t i = 0; i < occupancy.days.size(); ++i) {
      load.units.push_back(Mean(occupancy.days[i].units));
      load.orders.push_back(occupancy.starts[i]);
      days.push_back(occupancy.days[i].units);
      units += load.units.back();
      to_come += occupancy.days[i].to_come;
    }
    const int64_t plain = SizeFleet(load, days, .02, .05, {}).by_lost_share;
    EXPECT_NEAR(static_cast<double>(plain), static_cast<double>(right), 4) << "seed " << seed;
    found.push_back(plain);
    std::cout << "seed " << seed << ": " << plain << ", right is " << right << "\n";
    // Doubt about the level may ask for a unit or two more, never for fewer.
    load.doubt = occupancy.doubt * to_come / units;
    const int64_t doubtful = SizeFleet(load, days, .02, .05, {}).by_lost_share;
    EXPECT_GE(doubtful, plain);
    EXPECT_LE(doubtful, plain + 2) << load.doubt;
  }
  std::sort(found.begin(), found.end());
  EXPECT_NEAR(static_cast<double>(found[5]), static_cast<double>(right), 1.0);
}

INSTANTIATE_TEST_SUITE_P(Branches, FleetTruth, ::testing::Values(Truth{.3, 2}, Truth{.6, 2.5}));

}  // namespace
}  // namespace ferrule::plan
