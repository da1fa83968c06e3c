// Units in use on each coming day: those out now with their own odds, booked surgeries thinned by
// whether they hold, and orders still to come; as an exact distribution. In use means handed over
// and not yet ready again, counted at the end of the day.
#pragma once

#include <cstdint>
#include <string>
#include <vector>

#include "core/plan/booking.h"
#include "core/plan/methods.h"
#include "core/plan/order_rate.h"
#include "core/plan/paths.h"
#include "core/plan/pmf.h"
#include "core/plan/stay_law.h"

namespace ferrule::plan {

struct OccupancyInput {
  int64_t now = 0;                // today; what is dated later is not known
  int horizon = 56;               // days
  int classes = 1;                // at least so many are answered for, with or without bookings
  std::vector<Booking> bookings;  // of all classes of the branch, in any order
  std::vector<int64_t> holidays;  // days without surgery, past and coming
  // What if: lengths of orders that have not begun, turnarounds, and the rate of orders still to
  // come on each coming day (empty: as it is).
  StayChange stays;
  std::vector<double> demand;
  // By class, whose weekly level the last forecast took: it stays until another is clearly better
  // (core/plan/week_rate.h). Beyond the list the calendar model's.
  std::vector<Method> incumbents;
  OtherBranches others;  // none: the branch is by itself
};

// Classes that are answered for.
int ClassesOf(const OccupancyInput& input, const std::vector<Booking>& known);

struct OccupancyDay {
  Pmf units;                  // the whole distribution
  double out = 0;             // mean of units out now that are still in use then
  double booked = 0;          // mean from bookings that stand
  double to_come = 0;         // mean from orders not yet booked
  double known_variance = 0;  // of the units out and booked
};

struct ClassOccupancy {
  int device_class = 0;
  std::vector<OccupancyDay> days;  // now + 1, now + 2, ...
  // Orders per day still to come, before thinning by length: the load that other rules need.
  double orders_per_day = 0;
  std::string basis;  // what it rests on; says when it is pooled, and whose the level is
  Method level_method = Method::kCalendar;
  int64_t history = 0;               // surgeries of this class that the rate was learned from
  double cycle = 0;                  // mean days in use per order
  std::vector<double> starts;        // expected units going out on each coming day
  std::vector<double> known_starts;  // of them, from bookings that stand
  double doubt = 0;  // coefficient of variation of the units expected of orders to come
  PathModel paths;   // the same to be drawn from
};

// One entry per class from 0 to the highest in the bookings, at least `classes`. Any amount of data
// gives an answer: a class with little history borrows from the branch, a branch with none from
// what is usual, with wide bounds.
std::vector<ClassOccupancy> ForecastOccupancy(const OccupancyInput& input);

// Stock-out risk with `units` units, named for what it is.
struct StockOut {
  std::vector<double> short_on_day;  // P(more than `units` wanted) on each day
  double worst = 0;
  int worst_day = 0;           // 1 for now + 1
  double unit_days_short = 0;  // expected over the horizon
};
StockOut RiskOf(const ClassOccupancy& occupancy, int64_t units);

// Smallest number of units with P(more wanted) <= risk on every day of the horizon.
int64_t UnitsForRisk(const ClassOccupancy& occupancy, double risk);

}  // namespace ferrule::plan
