#include "core/outlook/fleet_size.h"

#include <algorithm>
#include <cmath>
#include <map>
#include <set>

#include "absl/strings/str_cat.h"
#include "absl/strings/str_format.h"
#include "core/fact/counted.h"
#include "core/outlook/forecast.h"
#include "core/outlook/targets.h"
#include "core/plan/fleet.h"
#include "core/time/civil.h"

namespace ferrule::outlook {
namespace {

constexpr int kUsualWindow = 182;
constexpr int64_t kMostPoints = 40;
constexpr double kDaysAYear = 365;

// Everything about one fleet that the rules need.
struct Sizing {
  std::string branch, device_class;
  Fleet fleet;
  plan::Load load;
  std::vector<plan::Pmf> days;
  Targets targets;
  plan::ClassOccupancy occupancy;
};

int64_t MinorOf(double minor) { return static_cast<int64_t>(std::llround(minor)); }

double CycleDays(const plan::ClassOccupancy& occupancy) { return occupancy.cycle; }

double HireCost(const Sizing& s, int64_t units) {
  double shortage = 0;
  for (const plan::Pmf& day : s.days) shortage += plan::ExpectedShortage(day, units);
  return s.targets.money.cost * static_cast<double>(units) +
         s.targets.money.shortage_cost * shortage /
             static_cast<double>(std::max<size_t>(1, s.days.size()));
}

void PutPoints(const Sizing& s, const plan::PathSet& paths, const std::set<int64_t>& sizes,
               v1::FleetSize* out) {
  for (const int64_t units : sizes) {
    v1::FleetPoint& point = *out->add_points();
    point.set_unit_count(units);
    point.set_formula_lost_share(plan::LostShare(s.load, units));
    const plan::PathSet::Lost lost = paths.LostWith(units);
    point.set_simulated_lost_share(lost.orders > 0 ? lost.lost / lost.orders : 0);
    double worst = 0, shortage = 0;
    for (const plan::Pmf& day : s.days) {
      worst = std::max(worst, plan::Tail(day, units));
      shortage += plan::ExpectedShortage(day, units);
    }
    point.set_worst_day_probability(worst);
    point.set_at_least_once_probability(std::max(worst, paths.ShortAtLeastOnce(units)));
    point.set_short_units_per_day(shortage /
                                  static_cast<double>(std::max<size_t>(1, s.days.size())));
    if (s.targets.has_rent && s.targets.has_cost) {
      point.set_profit_per_day_minor(
          MinorOf(plan::LostOrdersProfit(s.load, units, s.targets.money)));
    }
    if (s.targets.has_cost && s.targets.has_shortage) {
      point.set_hire_cost_per_day_minor(MinorOf(HireCost(s, units)));
    }
  }
}

// Formula and simulation at the size that the formula's rule names.
std::string Agreement(const v1::FleetSize& size, double target) {
  for (const v1::FleetPoint& point : size.points()) {
    if (point.unit_count() != size.lost_rule_count()) continue;
    const double formula = point.formula_lost_share(), drawn = point.simulated_lost_share();
    int64_t by_paths = -1;
    for (const v1::FleetPoint& p : size.points()) {
      if (p.simulated_lost_share() <= target) {
        by_paths = p.unit_count();
        break;
      }
    }
    const std::string units = fact::Counted(size.lost_rule_count(), "unit", "units");
    if (by_paths == size.lost_rule_count()) {
      return absl::StrFormat(
          "formula and simulation name the same size; with %s they lose %.1f %% and %.1f %%", units,
          100 * formula, 100 * drawn);
    }
    return absl::StrFormat(
        "they disagree: with %s the formula loses %.1f %% and the simulation %.1f %%%s. The "
        "formula takes each day by itself; in the simulation every refusal frees a later day",
        units, 100 * formula, 100 * drawn,
        by_paths < 0
            ? std::string()
            : "; by simulation " + fact::Counted(by_paths, "unit is enough", "units are enough"));
  }
  return "";
}

void PutDayLess(const Sizing& s, const plan::Load& shorter, v1::FleetSize* out) {
  const int64_t units = std::max<int64_t>(0, Lendable(s.fleet));
  v1::CycleDay& day = *out->mutable_day_less();
  day.set_lost_before_share(plan::LostShare(s.load, units));
  day.set_lost_after_share(plan::LostShare(shorter, units));
  double orders = 0;
  for (double o : s.load.orders) orders += o;
  orders /= static_cast<double>(std::max<size_t>(1, s.load.orders.size()));
  const double kept =
      std::max(0.0, day.lost_before_share() - day.lost_after_share()) * orders * kDaysAYear;
  day.set_kept_orders_per_year(kept);
  day.set_worth_per_year_minor(MinorOf(kept * CycleDays(s.occupancy) * s.targets.money.rent));
  // Units, fractions included, at which the shorter cycle loses what the longer one does now.
  int64_t whole = units;
  while (whole > 0 && plan::LostShare(shorter, whole - 1) <= day.lost_before_share()) --whole;
  double freed = static_cast<double>(units - whole);
  if (whole > 0) {
    const double above = plan::LostShare(shorter, whole - 1), at = plan::LostShare(shorter, whole);
    if (above > at) freed += (day.lost_before_share() - at) / (above - at);
  }
  day.set_freed_units(freed);
}

void PutSize(const Sizing& s, const plan::Load& shorter, int paths, uint64_t seed,
             const std::string& silence, v1::FleetSize* out) {
  out->set_branch(s.branch);
  out->set_device_class(s.device_class);
  out->set_unit_count(s.fleet.units);
  out->set_cycle_days(CycleDays(s.occupancy));
  double orders = 0, units = 0, peak = 0;
  for (size_t i = 0; i < s.load.units.size(); ++i) {
    orders += s.load.orders[i];
    units += s.load.units[i];
    peak = std::max(peak, s.load.units[i]);
  }
  const auto n = static_cast<double>(std::max<size_t>(1, s.load.units.size()));
  out->set_orders_per_day(orders / n);
  out->set_mean_units(units / n);
  out->set_peak_units(peak);
  const plan::FleetAnswer answer = plan::SizeFleet(s.load, s.days, s.targets.lost_share,
                                                   s.targets.short_probability, s.targets.money);
  out->set_lost_rule_count(answer.by_lost_share);
  out->set_wait_rule_count(answer.by_short_days);
  std::set<int64_t> sizes = {answer.by_lost_share, answer.by_short_days, s.fleet.units};
  if (s.targets.has_rent && s.targets.has_cost) {
    out->set_profit_rule_count(answer.by_money_lost);
    sizes.insert(answer.by_money_lost);
  }
  if (s.targets.has_shortage && s.targets.has_cost) {
    out->set_hire_rule_count(answer.by_money_hired);
    sizes.insert(answer.by_money_hired);
  }
  // A curve around the named sizes.
  const int64_t low = std::max<int64_t>(0, *sizes.begin() - 4), high = *sizes.rbegin() + 4;
  const int64_t step = std::max<int64_t>(1, (high - low) / kMostPoints);
  for (int64_t u = low; u <= high; u += step) sizes.insert(u);
  PutPoints(s, plan::PathSet(s.occupancy.paths, paths, seed), sizes, out);
  out->set_agreement(Agreement(*out, s.targets.lost_share));
  PutDayLess(s, shorter, out);
  out->set_basis(s.occupancy.basis + silence);
  out->set_lost_target_share(s.targets.lost_share);
  out->set_short_day_target_probability(s.targets.short_probability);
  out->set_missing_money(s.targets.missing);
}

// What the budget buys over all fleets, the greatest gain for its price first.
void Buy(const std::vector<Sizing>& all, int64_t budget_minor,
         v1::ReportFleetSizeResponse* response) {
  std::vector<std::vector<double>> gain(all.size());
  std::vector<double> price(all.size(), 0);
  for (size_t k = 0; k < all.size(); ++k) {
    const Sizing& s = all[k];
    price[k] = s.targets.price_minor;
    if (!s.targets.has_rent || !(price[k] > 0)) continue;
    const int64_t most =
        std::min<int64_t>(200, budget_minor / std::max<int64_t>(1, MinorOf(price[k])));
    double before = plan::LostOrdersProfit(s.load, s.fleet.units, s.targets.money);
    for (int64_t n = 1; n <= most; ++n) {
      const double after = plan::LostOrdersProfit(s.load, s.fleet.units + n, s.targets.money);
      if (after <= before) break;
      gain[k].push_back(after - before);
      before = after;
    }
  }
  const std::vector<int> bought = plan::SpendBudget(gain, price, static_cast<double>(budget_minor));
  struct One {
    double ratio;
    size_t k;
    int number;
  };
  std::vector<One> list;
  for (size_t k = 0; k < all.size(); ++k)
    for (int n = 0; n < bought[k]; ++n)
      list.push_back({gain[k][static_cast<size_t>(n)] / price[k], k, n});
  std::stable_sort(list.begin(), list.end(),
                   [](const One& a, const One& b) { return a.ratio > b.ratio; });
  for (const One& one : list) {
    v1::Purchase& purchase = *response->add_purchases();
    purchase.set_branch(all[one.k].branch);
    purchase.set_device_class(all[one.k].device_class);
    purchase.set_unit_number(all[one.k].fleet.units + one.number + 1);
    purchase.set_price_minor(MinorOf(price[one.k]));
    purchase.set_gain_per_year_minor(
        MinorOf(gain[one.k][static_cast<size_t>(one.number)] * kDaysAYear));
  }
}

// Adds what a branch brings to a pool; the doubts are about branches apart.
void AddTo(const plan::Load& load, plan::Load* sum, double* squares) {
  sum->units.resize(load.units.size());
  sum->orders.resize(load.orders.size());
  sum->known.resize(load.known.size());
  double coming = 0;
  for (size_t i = 0; i < load.units.size(); ++i) {
    sum->units[i] += load.units[i];
    sum->orders[i] += load.orders[i];
    sum->known[i].units += load.known[i].units;
    sum->known[i].variance += load.known[i].variance;
    sum->known[i].orders += load.known[i].orders;
    coming += load.units[i] - load.known[i].units;
  }
  *squares += coming * load.doubt * coming * load.doubt;
}

// One pool of all branches of a class: loads add up, and so do the squares of what is in doubt.
void Pool(const std::vector<Sizing>& all, v1::ReportFleetSizeResponse* response) {
  std::map<std::string, std::vector<size_t>> by_class;
  for (size_t k = 0; k < all.size(); ++k) by_class[all[k].device_class].push_back(k);
  for (const auto& [device_class, members] : by_class) {
    if (members.size() < 2) continue;
    plan::Load sum;
    sum.unmet = plan::kUnmetOfWholeDays;
    double squares = 0, coming = 0;
    v1::PooledSize& pooled = *response->add_pools();
    pooled.set_device_class(device_class);
    for (const size_t k : members) {
      AddTo(all[k].load, &sum, &squares);
      pooled.set_apart_count(pooled.apart_count() +
                             response->sizes(static_cast<int>(k)).lost_rule_count());
    }
    for (size_t i = 0; i < sum.units.size(); ++i) coming += sum.units[i] - sum.known[i].units;
    sum.doubt = coming > 0 ? std::sqrt(squares) / coming : 0;
    int64_t n = 0;
    while (plan::LostShare(sum, n) > all[members.front()].targets.lost_share) ++n;
    pooled.set_pooled_count(n);
  }
}

absl::Status CheckTarget(const char* field, double share) {
  if (share >= 0 && share < 1) return absl::OkStatus();
  return absl::InvalidArgumentError(
      absl::StrCat(field, " is ", share, ": give a share above 0 and below 1, 0.05 for 5 %"));
}

}  // namespace

absl::StatusOr<int> PathsOf(int paths) {
  if (paths == 0) return kUsualPaths;
  if (paths >= 100 && paths <= 20'000) return paths;
  return absl::InvalidArgumentError(
      absl::StrCat("path_count is ", paths, ": give 100 to 20,000, or 0 for ", kUsualPaths));
}

absl::StatusOr<v1::ReportFleetSizeResponse> SizeFleets(const Records& records,
                                                       const v1::ReportFleetSizeRequest& request,
                                                       int64_t at_us) {
  const auto horizon = HorizonOf(request.horizon_days(), kUsualWindow, 7, 365);
  if (!horizon.ok()) return horizon.status();
  const auto paths = PathsOf(request.path_count());
  if (!paths.ok()) return paths.status();
  absl::Status status = CheckTarget("lost_target_share", request.lost_target_share());
  if (status.ok()) {
    status = CheckTarget("short_day_target_probability", request.short_day_target_probability());
  }
  if (!status.ok()) return status;
  if (request.budget_minor() < 0) {
    return absl::InvalidArgumentError("budget_minor is negative: give hundredths, 0 for none");
  }
  const std::vector<BranchInput> inputs = ForecastInput(records, at_us);
  const auto asked = AskedOf(inputs, request.branch(), request.device_class());
  if (!asked.ok()) return asked.status();
  v1::ReportFleetSizeResponse response;
  time::SetMicros(at_us, response.mutable_at_time());
  response.set_currency(records.rules().settings().currency());
  const uint64_t seed = request.seed() == 0 ? 1 : static_cast<uint64_t>(request.seed());
  const std::string silence = Silence(records, at_us);
  std::vector<Sizing> all;
  for (const Asked& one : *asked) {
    plan::OccupancyInput input = one.branch->input;
    input.horizon = *horizon;
    const std::vector<plan::ClassOccupancy> now = plan::ForecastOccupancy(input);
    input.stays.turning_days = -1;
    const std::vector<plan::ClassOccupancy> less = plan::ForecastOccupancy(input);
    for (const size_t c : one.classes) {
      Sizing s;
      s.branch = one.branch->branch;
      s.device_class = one.branch->classes[c];
      s.fleet = one.branch->fleets[c];
      s.occupancy = now[c];
      s.load = plan::LoadOf(now[c]);
      for (const plan::OccupancyDay& day : now[c].days) s.days.push_back(day.units);
      const double cost =
          s.fleet.units > 0 ? static_cast<double>(s.fleet.cost_minor) / s.fleet.units : 0;
      s.targets = TargetsOf(records.rules(), s.device_class, cost);
      if (request.lost_target_share() > 0) s.targets.lost_share = request.lost_target_share();
      if (request.short_day_target_probability() > 0) {
        s.targets.short_probability = request.short_day_target_probability();
      }
      PutSize(s, plan::LoadOf(less[c]), *paths, seed, silence, response.add_sizes());
      all.push_back(std::move(s));
    }
  }
  if (request.budget_minor() > 0) Buy(all, request.budget_minor(), &response);
  if (request.branch().empty()) Pool(all, &response);
  return response;
}

}  // namespace ferrule::outlook
