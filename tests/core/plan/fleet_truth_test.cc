// Fleet size out of recorded orders against the size that brute force finds when it knows the true
// law: hundreds of futures of the real loss system, from today's units out and booked dates on.
#include <algorithm>
#include <cmath>
#include <iostream>

#include "core/plan/fleet.h"
#include "core/plan/occupancy.h"
#include "core/plan/random.h"
#include "gtest/gtest.h"

namespace ferrule::plan {
namespace {

constexpr int64_t kNow = 20'002;  // a Sunday
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

int64_t ClassOf(int64_t rental) { return rental >= 27 ? 28 : rental >= 20 ? 21 : 14; }

// When a unit out today is ready again, drawn from the true law given what is known of it.
int64_t DrawReady(const Truth& truth, const Booking& b, Random& random) {
  for (int tries = 0; tries < 5000; ++tries) {
    const int64_t turning = 1 + random.Poisson(truth.mean_turning - 1), rental = DrawRental(random);
    if (b.returned > kNow && ClassOf(rental) != b.prescribed_days) continue;
    const int64_t returned = b.returned > kNow ? b.start + rental : b.returned;
    if (b.returned > kNow && returned <= kNow) continue;
    if (returned + turning > kNow) return returned + turning;
  }
  return kNow + 1;
}

// Share lost with so many units over the window, by the true law, from today's units out and
// booked dates on.
double TrueLost(const Truth& truth, const OccupancyInput& known, int64_t units) {
  double orders = 0, lost = 0;
  for (int path = 0; path < 300; ++path) {
    Random random(99, static_cast<uint64_t>(path));
    std::vector<int64_t> back(kWindow + 400, 0), starts(kWindow + 2, 0);
    int64_t in_use = 0;
    const auto start = [&](int64_t day) {
      if (day <= kWindow) ++starts[static_cast<size_t>(day)];
    };
    for (const Booking& b : known.bookings) {
      if (b.surgery > kNow) {
        start(b.surgery - kNow + (random.Uniform() < .5 ? 1 : 0));
      } else if (b.start > kNow) {
        start(1);
      } else if (b.ready > kNow) {
        ++in_use;
        ++back[static_cast<size_t>(
            std::min<int64_t>(DrawReady(truth, b, random) - kNow, kWindow + 399))];
      }
    }
    double booked_later = 0, chance = std::exp(-12.0);
    for (int day = 1; day <= kWindow; ++day) {
      booked_later += chance;  // the chance of a lead shorter than that
      chance *= 12.0 / day;
      const double rate = RateOn(truth, kNow + day) * std::min(booked_later, 1.0);
      for (int64_t n = random.Poisson(rate); n > 0; --n)
        start(day + (random.Uniform() < .5 ? 1 : 0));
    }
    for (int day = 1; day <= kWindow; ++day) {
      in_use -= back[static_cast<size_t>(day)];
      for (int64_t n = starts[static_cast<size_t>(day)]; n > 0; --n) {
        const int64_t length = DrawRental(random) + 1 + random.Poisson(truth.mean_turning - 1);
        orders += 1;
        if (in_use >= units) {
          lost += 1;
          continue;
        }
        ++in_use;
        ++back[static_cast<size_t>(std::min<int64_t>(day + length, kWindow + 399))];
      }
    }
  }
  return lost / orders;
}

int64_t TrueSize(const Truth& truth, const OccupancyInput& known, double target) {
  int64_t units = 8;
  while (TrueLost(truth, known, units) > target) ++units;
  return units;
}

class FleetTruth : public ::testing::TestWithParam<Truth> {};

// The goal is one unit for every branch: of 120 (seeds 1 to 60) 115 are within one, five are off by
// two. What misses is the level: at .6 orders a day the 660 orders on record tell the load of 15
// units within .6, and the planner follows a level that wanders, of which there is none here and
// which so few orders cannot rule out.
TEST_P(FleetTruth, IsFoundWithinOneUnitOnMostBranches) {
  int within = 0;
  std::vector<int64_t> off;
  for (uint64_t seed = 1; seed <= 20; ++seed) {
    const OccupancyInput known = Recorded(GetParam(), seed);
    const int64_t right = TrueSize(GetParam(), known, .02);
    const ClassOccupancy occupancy = ForecastOccupancy(known)[0];
    Load load = LoadOf(occupancy);
    const double doubt = load.doubt;
    load.doubt = 0;
    std::vector<Pmf> days;
    for (const OccupancyDay& day : occupancy.days) days.push_back(day.units);
    const int64_t plain = SizeFleet(load, days, .02, .05, {}).by_lost_share;
    EXPECT_NEAR(static_cast<double>(plain), static_cast<double>(right), 3) << "seed " << seed;
    within += std::abs(plain - right) <= 1 ? 1 : 0;
    off.push_back(plain - right);
    std::cout << "seed " << seed << ": " << plain << ", right is " << right << "\n";
    // Doubt about the level may ask for a unit or two more, never for fewer.
    load.doubt = doubt;
    const int64_t doubtful = SizeFleet(load, days, .02, .05, {}).by_lost_share;
    EXPECT_GE(doubtful, plain);
    EXPECT_LE(doubtful, plain + 2) << load.doubt;
  }
  std::sort(off.begin(), off.end());
  EXPECT_NEAR(static_cast<double>(off[10]), 0, 1.0);
  EXPECT_GE(within, 19) << "of 20";
}

INSTANTIATE_TEST_SUITE_P(Branches, FleetTruth, ::testing::Values(Truth{.3, 2}, Truth{.6, 2.5}));

}  // namespace
}  // namespace ferrule::plan
