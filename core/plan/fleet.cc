#include "core/plan/fleet.h"

#include <algorithm>
#include <cmath>

#include "core/plan/distributions.h"
#include "core/plan/erlang.h"

namespace ferrule::plan {
namespace {

constexpr int kSlices = 24;
constexpr int64_t kMostUnits = 1000000;

double MeanLoad(const Load& load) {
  double sum = 0;
  for (double m : load.units) sum += m;
  return load.units.empty() ? 0 : sum / static_cast<double>(load.units.size());
}

}  // namespace

Load LoadOf(const ClassOccupancy& occupancy) {
  Load load;
  load.doubt = occupancy.doubt;
  load.unmet = kUnmetOfWholeDays;
  load.orders = occupancy.starts;
  for (size_t i = 0; i < occupancy.days.size(); ++i) {
    const OccupancyDay& day = occupancy.days[i];
    load.units.push_back(day.out + day.booked + day.to_come);
    load.known.push_back({day.out + day.booked, day.known_variance, occupancy.known_starts[i]});
  }
  return load;
}

double LostShare(const Load& load, int64_t units) {
  const size_t days = std::min(load.units.size(), load.orders.size());
  double lost = 0, wanted = 0;
  for (double level : GammaSlices(1, load.doubt, load.doubt > 0 ? kSlices : 1))
    for (size_t t = 0; t < days; ++t) {
      const KnownLoad known = t < load.known.size() ? load.known[t] : KnownLoad{};
      const double coming = level * std::max(0.0, load.units[t] - known.units);
      const double orders = known.orders + level * std::max(0.0, load.orders[t] - known.orders);
      const double unmet = load.unmet * orders;
      const double scatter = std::max(0.0, known.variance + coming - unmet);
      const double sure = known.units + coming - unmet - scatter;
      lost += orders * LossBetween(scatter, static_cast<double>(units) - sure);
      wanted += orders;
    }
  return wanted > 0 ? lost / wanted : 0;
}

double CostPerDay(double price, double salvage, double years, double interest, double upkeep) {
  if (!(years > 0)) return price;
  if (!(interest > 1e-9)) return (price - salvage) / years / 365 + upkeep;
  const double growth = std::pow(1 + interest, years);
  const double recovery = interest * growth / (growth - 1), sinking = interest / (growth - 1);
  return (price * recovery - salvage * sinking) / 365 + upkeep;
}

double LostOrdersProfit(const Load& load, int64_t units, const UnitMoney& money) {
  // Units in use without a limit, less the share whose orders were lost.
  return money.rent * MeanLoad(load) * (1 - LostShare(load, units)) -
         money.cost * static_cast<double>(units);
}

FleetAnswer SizeFleet(const Load& load, const std::vector<Pmf>& days, double target, double risk,
                      const UnitMoney& money) {
  FleetAnswer answer;
  while (answer.by_lost_share < kMostUnits && LostShare(load, answer.by_lost_share) > target)
    ++answer.by_lost_share;
  for (const Pmf& day : days)
    answer.by_short_days = std::max(answer.by_short_days, Quantile(day, 1 - risk));
  // The gain of each further unit falls, so the first that does not pay ends the search.
  double profit = LostOrdersProfit(load, 0, money);
  while (answer.by_money_lost < kMostUnits) {
    const double next = LostOrdersProfit(load, answer.by_money_lost + 1, money);
    if (next <= profit) break;
    profit = next;
    ++answer.by_money_lost;
  }
  // A further unit saves the hiring on the share of days on which more than n are wanted.
  const auto share_short = [&](int64_t n) {
    double sum = 0;
    for (const Pmf& day : days) sum += Tail(day, n);
    return days.empty() ? 0 : sum / static_cast<double>(days.size());
  };
  while (answer.by_money_hired < kMostUnits &&
         money.shortage_cost * share_short(answer.by_money_hired) > money.cost)
    ++answer.by_money_hired;
  return answer;
}

std::vector<int> SpendBudget(const std::vector<std::vector<double>>& gain,
                             const std::vector<double>& price, double budget) {
  std::vector<int> bought(gain.size(), 0);
  for (;;) {
    size_t best = gain.size();
    double most = 0;
    for (size_t k = 0; k < gain.size(); ++k) {
      const size_t next = static_cast<size_t>(bought[k]);
      if (next >= gain[k].size() || !(price[k] > 0) || price[k] > budget) continue;
      if (gain[k][next] / price[k] > most) most = gain[k][next] / price[k], best = k;
    }
    if (best == gain.size()) return bought;
    ++bought[best];
    budget -= price[best];
  }
}

}  // namespace ferrule::plan
