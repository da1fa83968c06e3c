#include "core/plan/paths.h"

#include <cmath>

#include "core/plan/occupancy.h"
#include "gtest/gtest.h"

namespace ferrule::plan {
namespace {

// A branch with three years of steady orders.
OccupancyInput Steady() {
  OccupancyInput input;
  input.now = 20'000;
  input.horizon = 42;
  uint64_t id = 1;
  for (int64_t day = input.now - 1000; day <= input.now + 14; ++day) {
    if (day % 2 != 0) continue;
    Booking b;
    b.id = id++;
    b.booked = day - 10;
    b.surgery = day;
    b.prescribed_days = 21;
    if (b.booked > input.now) continue;
    if (day <= input.now) {
      b.start = day;
      b.returned = day + 21 + day % 3;
      b.ready = b.returned + 2;
    }
    input.bookings.push_back(b);
  }
  return input;
}

TEST(Paths, HaveTheMeansAndTailsOfTheExactDistribution) {
  const ClassOccupancy occupancy = ForecastOccupancy(Steady())[0];
  const PathSet paths(occupancy.paths, 8000, 5);
  for (const size_t d : {0, 6, 20, 41}) {
    EXPECT_NEAR(paths.mean()[d], Mean(occupancy.days[d].units), .2) << d;
    const int64_t q = Quantile(occupancy.days[d].units, .8);
    EXPECT_NEAR(paths.ShortOnDay(q)[d], Tail(occupancy.days[d].units, q), .03) << d;
  }
}

TEST(Paths, TheSameSeedGivesTheSameFuture) {
  const ClassOccupancy occupancy = ForecastOccupancy(Steady())[0];
  const PathSet a(occupancy.paths, 200, 5), b(occupancy.paths, 200, 5), c(occupancy.paths, 200, 6);
  EXPECT_EQ(a.mean(), b.mean());
  EXPECT_NE(a.mean(), c.mean());
}

TEST(Paths, MoreUnitsAreNeverWorse) {
  const ClassOccupancy occupancy = ForecastOccupancy(Steady())[0];
  const PathSet paths(occupancy.paths, 500, 1);
  double lost = 1e9, once = 1, days = 1e9;
  for (int64_t units = 0; units < 40; ++units) {
    const double l = paths.LostWith(units).lost, o = paths.ShortAtLeastOnce(units),
                 s = paths.ShortUnitDays(units);
    EXPECT_LE(l, lost + 1e-9);
    EXPECT_LE(o, once);
    EXPECT_LE(s, days);
    lost = l, once = o, days = s;
  }
  EXPECT_EQ(lost, 0);
}

// What one booking does is drawn apart from all others: without it, nothing else changes.
TEST(Paths, AChangeMovesNothingButWhatItChanges) {
  PathModel model;
  model.horizon = 10;
  model.busy = {{1, 1, 1, .5, 0}};
  model.lag = {1};
  model.rate.assign(10, .4);
  for (uint64_t k = 1; k <= 3; ++k) {
    StandingOrder order;
    order.stream = k;
    order.goes = .7;
    order.start_chance.assign(10, .1);
    model.standing.push_back(order);
  }
  PathModel less = model;
  less.standing.erase(less.standing.begin() + 1);
  const PathSet all(model, 300, 9), rest(less, 300, 9);
  // The one booking makes at most one unit of difference on any path.
  const std::vector<double> a = all.ShortUnitDaysByPath(0), b = rest.ShortUnitDaysByPath(0);
  for (size_t p = 0; p < a.size(); ++p) {
    EXPECT_GE(a[p], b[p]);
    EXPECT_LE(a[p], b[p] + 4);
  }
}

TEST(Paths, AnEmptyModelIsAnswered) {
  PathModel model;
  model.horizon = 5;
  model.busy = {{1, 0}};
  const PathSet paths(model, 10, 1);
  EXPECT_EQ(paths.orders(), 0);
  EXPECT_EQ(paths.ShortAtLeastOnce(0), 0);
  EXPECT_EQ(paths.LostWith(0).lost, 0);
}

}  // namespace
}  // namespace ferrule::plan
