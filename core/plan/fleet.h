// How many units to keep, by three rules side by side. Which is right depends on what becomes of
// an order that finds no unit: it goes elsewhere (lost), it waits, or another unit is hired in.
#pragma once

#include <cstdint>
#include <vector>

#include "core/plan/occupancy.h"
#include "core/plan/pmf.h"

namespace ferrule::plan {

// What is known order by order of one day: units out now and booked dates.
struct KnownLoad {
  double units = 0;     // mean wanted at the end of the day
  double variance = 0;  // of the units wanted, at most their mean
  double orders = 0;    // that go out on the day
};

// Mean units wanted at the end of each day of the window and orders going out on it, without any
// limit on the fleet; both >= 0. Those that are known are among them; the rest is a Poisson stream
// whose level is known only by chance: `doubt` is its coefficient of variation, and the answers are
// means over it, never at its mean.
struct Load {
  std::vector<double> units;
  std::vector<double> orders;
  double doubt = 0;
  std::vector<KnownLoad> known = {};  // by day; nothing is known beyond the list
  // Share of a day's orders whose units the others of the day do not find in use yet: 0 where time
  // goes by without steps.
  double unmet = 0;
};

// Of whole days. Half of the others come later in the day; but the last ones before the fleet is
// out exceed it together, which takes back a part. With a quarter the share is within 8 % of that
// of exact chains of whole days, of 4 to 30 units, with and without a pattern of the week.
inline constexpr double kUnmetOfWholeDays = .25;

Load LoadOf(const ClassOccupancy& occupancy);

// Share of the window's orders that are lost with `units` units: the loss formula at the load of
// each day (modified offered load), weighted by orders. What is known of a day scatters less than
// chance: by mean and variance, that many units are surely wanted and the rest is Poisson. Single
// days are early or late by some days; the window's mean is close to 5 % (measured against exact
// solutions).
double LostShare(const Load& load, int64_t units);

// Money per day.
struct UnitMoney {
  double rent = 0;           // earned per unit and day on rental
  double cost = 0;           // of owning one unit, per day
  double shortage_cost = 0;  // of one unit-day hired in or made good
};
// Cost per day of a unit bought at `price`, worth `salvage` after `years`, at yearly `interest`
// >= 0, with `upkeep` per day. years > 0.
double CostPerDay(double price, double salvage, double years, double interest, double upkeep);

struct FleetAnswer {
  int64_t by_lost_share = 0;   // lost share <= target
  int64_t by_short_days = 0;   // P(more wanted than units) <= risk on every day
  int64_t by_money_lost = 0;   // largest profit when orders without a unit are lost
  int64_t by_money_hired = 0;  // smallest cost when the missing unit-days are hired in
};
// target and risk in (0, 1). `days`: the distribution of units wanted on each day.
FleetAnswer SizeFleet(const Load& load, const std::vector<Pmf>& days, double target, double risk,
                      const UnitMoney& money);

// Profit per day of a fleet whose surplus orders are lost.
double LostOrdersProfit(const Load& load, int64_t units, const UnitMoney& money);

// Buys unit by unit where the next one brings most for its price, while the budget lasts and it
// brings anything. gain[k][n] is the gain of the n-th further unit of class k; falling gains make
// the answer the best one. Returns units to buy per class.
std::vector<int> SpendBudget(const std::vector<std::vector<double>>& gain,
                             const std::vector<double>& price, double budget);

}  // namespace ferrule::plan
