// How well the fleet is used, what earns nothing and what is lost.
#include <algorithm>
#include <array>
#include <optional>

#include "absl/strings/str_cat.h"
#include "absl/strings/str_format.h"
#include "core/fact/counted.h"
#include "core/outlook/figure.h"
#include "core/outlook/forecast.h"
#include "core/plan/survival.h"
#include "core/time/civil.h"

namespace ferrule::outlook {
namespace {

// A unit's days in the window, each judged at its end.
struct UnitDays {
  const UnitRecord* unit = nullptr;
  int64_t owned = 0;
  int64_t rented = 0;
  int64_t paid = 0;  // on rent, operated and not overdue
  int64_t idle = 0;  // ready and free
  FactKey last;
};

// Whether the unit earns on that day: the operation is over and the due day is not.
bool Earns(const MeasureContext& context, const UnitStep& step, int64_t day) {
  const OrderRecord* order = context.records().FindOrder(step.order);
  if (order == nullptr || order->steps.empty()) return true;
  const OrderStep& last = order->steps.back();
  return (last.surgery_day == kNever || day >= last.surgery_day) &&
         (last.due_day == kNever || day <= last.due_day);
}

std::vector<UnitDays> CountDays(const MeasureContext& context) {
  std::vector<UnitDays> all;
  for (const UnitRecord& unit : context.records().units) {
    UnitDays days;
    days.unit = &unit;
    for (int64_t day = context.first_day(); day <= context.last_day(); ++day) {
      const absl::CivilDay civil = time::DayFromNumber(day);
      const UnitStep* rough = StepAt(unit, time::StartOfDayMicros(civil + 1, absl::UTCTimeZone()));
      if (rough == nullptr) continue;
      const std::string branch = BranchOf(context.records(), *rough);
      const int64_t end_us = time::StartOfDayMicros(civil + 1, context.ZoneOf(branch)) - 1;
      // A day that is not over is judged as it stands.
      const UnitStep* step = StepAt(unit, std::min(end_us, context.at_us()));
      if (step == nullptr || !InFleet(*step) || !context.WantsUnit(unit, *step)) continue;
      ++days.owned;
      days.last = step->fact;
      if (step->custody == v1::CUSTODY_HOME) {
        ++days.rented;
        if (Earns(context, *step, day)) ++days.paid;
      } else if (step->ready && step->commitment == v1::COMMITMENT_FREE) {
        ++days.idle;
      }
    }
    if (days.owned > 0) all.push_back(days);
  }
  return all;
}

using Count = int64_t UnitDays::*;

v1::Measure DaysOf(const MeasureContext& context, const std::vector<UnitDays>& all, const char* id,
                   const char* text, Count part, const char* formula, bool by_cost) {
  Figure figure(context, id, "fleet", text, "%", formula);
  double above = 0, below = 0;
  int64_t without_cost = 0;
  for (const UnitDays& days : all) {
    const double weight = by_cost ? static_cast<double>(days.unit->cost_minor) : 1;
    if (by_cost && days.unit->cost_minor == 0) ++without_cost;
    above += weight * static_cast<double>(days.*part);
    below += weight * static_cast<double>(days.owned);
    figure.Record("units/" + days.unit->unit,
                  absl::StrCat(days.*part, " of ", fact::Counted(days.owned, "day", "days")),
                  static_cast<double>(days.*part), days.last);
  }
  figure.PutRatio(above, below, 100, static_cast<int64_t>(all.size()));
  if (without_cost > 0) {
    figure.Missing(fact::Counted(without_cost, "unit has no purchase cost and weighs nothing",
                                 "units have no purchase cost and weigh nothing"));
  }
  return figure.Take();
}

v1::Measure TurnsPerYear(const MeasureContext& context, const std::vector<UnitDays>& all) {
  Figure figure(context, "turns-per-unit-year", "fleet", "rentals ended per unit and year",
                "per unit-year", "rentals that ended in the window x 365 / unit-days owned");
  double owned = 0;
  for (const UnitDays& days : all) owned += static_cast<double>(days.owned);
  int64_t turns = 0;
  for (const Turn& turn : context.turns()) {
    const OrderRecord* order = context.records().FindOrder(turn.order);
    if (turn.lost || order == nullptr || !context.WantsTurn(turn) ||
        !context.Within(turn.back_us, order->branch)) {
      continue;
    }
    ++turns;
    figure.Record("orders/" + turn.order,
                  "unit " + context.records().units[turn.unit].unit + " came back", 1,
                  turn.back_fact);
  }
  figure.PutRatio(static_cast<double>(turns), owned, 365, turns);
  return figure.Take();
}

v1::Measure NeverEarns(const MeasureContext& context, const std::vector<UnitDays>& all) {
  Figure figure(context, "units-never-earning", "fleet",
                "units in the fleet on every day of the window and never out", "units",
                "units owned on all days of the window with no day on rent");
  int64_t idle = 0, whole = 0;
  for (const UnitDays& days : all) {
    if (days.owned != context.last_day() - context.first_day() + 1) continue;
    ++whole;
    if (days.rented > 0) continue;
    ++idle;
    figure.Record("units/" + days.unit->unit,
                  absl::StrCat("ready and free on ", days.idle, " of ",
                               fact::Counted(days.owned, "day", "days")),
                  static_cast<double>(days.idle), days.last);
  }
  figure.PutRatio(static_cast<double>(idle), whole > 0 ? 1 : 0, 1, whole);
  return figure.Take();
}

v1::Measure LossRate(const MeasureContext& context, const std::vector<UnitDays>& all) {
  Figure figure(context, "loss-rate", "fleet",
                "units that went missing or off the books unsold, less those found, a year",
                "% of fleet a year",
                "(units missing in the window - missing ones found in it) x 365 / unit-days owned; "
                "a unit found counts in the window in which it was found");
  double owned = 0;
  for (const UnitDays& days : all) owned += static_cast<double>(days.owned);
  int64_t lost = 0;
  for (const UnitRecord& unit : context.records().units) {
    for (const UnitStep& step : unit.steps) {
      const std::string branch = BranchOf(context.records(), step);
      if (!context.Within(step.happened_us, branch) || !context.WantsUnit(unit, step)) continue;
      const int change = step.what == v1::Fact::kUnitMissing ? 1
                         : step.what == v1::Fact::kUnitFound ? -1
                                                             : 0;
      if (change == 0) continue;
      lost += change;
      figure.Record("units/" + unit.unit, change > 0 ? "went missing" : "was found", change,
                    step.fact);
    }
  }
  figure.PutRatio(static_cast<double>(lost), owned, 100 * 365, lost);
  return figure.Take();
}

v1::Measure FinancialUtilisation(const MeasureContext& context, const std::vector<UnitDays>& all) {
  Figure figure(context, "financial-utilisation", "fleet",
                "rental billed a year, of what the fleet cost", "% a year",
                "billed for days of the window x 365 / sum of purchase cost x days in the fleet; "
                "days not billed yet are not in it");
  double billed = 0, cost = 0;
  int64_t orders = 0, without_cost = 0;
  for (const OrderRecord& order : context.records().orders) {
    if (!context.WantsOrder(order)) continue;
    const double own = BilledMinor(order, context.first_day(), context.last_day()) / 100;
    if (own == 0) continue;
    ++orders;
    billed += own;
    figure.Record("orders/" + order.order, absl::StrFormat("billed %.2f", own), own,
                  order.steps.back().fact);
  }
  for (const UnitDays& days : all) {
    if (days.unit->cost_minor == 0) ++without_cost;
    cost += static_cast<double>(days.unit->cost_minor) / 100 * static_cast<double>(days.owned);
  }
  figure.PutRatio(billed, cost, 100 * 365, orders);
  if (without_cost > 0 && cost > 0) {
    figure.Missing(fact::Counted(without_cost, "unit has no purchase cost and weighs nothing",
                                 "units have no purchase cost and weigh nothing"));
  }
  return figure.Take();
}

// The chance that a rental as old as this one still ends within 90 days, from ended and open
// rentals together.
v1::Measure SearchList(const MeasureContext& context) {
  Figure figure(context, "search-list", "fleet",
                "units to look for: unaccounted for, or overdue by more than 30 days", "units",
                "units unaccounted for, and units with patients more than 30 days after the due "
                "day, at the end of the records; odds of coming back within 90 days by the "
                "product-limit curve of all rentals");
  constexpr int64_t kOverdue = 30;
  std::vector<plan::Stay> stays;
  for (const Turn& turn : context.turns()) {
    const int64_t end = turn.back_us == kNever || turn.lost ? context.at_us() : turn.back_us;
    if (end <= turn.out_us) continue;
    stays.push_back(
        {static_cast<double>(end - turn.out_us) / kDayUs, turn.back_us != kNever && !turn.lost, 0});
  }
  const auto curve = plan::ProductLimit(stays);
  int64_t count = 0, looked = 0;
  double worth = 0;
  for (const UnitRecord& unit : context.records().units) {
    const UnitStep* step = StepAt(unit, context.at_us());
    if (step == nullptr || !context.WantsUnit(unit, *step)) continue;
    ++looked;
    std::string text;
    double silent = static_cast<double>(context.at_us() - step->happened_us) / kDayUs;
    if (step->custody == v1::CUSTODY_UNACCOUNTED) {
      text = absl::StrCat("unaccounted for; last at ", step->place);
    } else if (step->custody == v1::CUSTODY_HOME) {
      const OrderRecord* order = context.records().FindOrder(step->order);
      if (order == nullptr || order->steps.back().due_day == kNever) continue;
      const int64_t over =
          context.DayOf(context.at_us(), order->branch) - order->steps.back().due_day;
      if (over <= kOverdue) continue;
      const double out = silent;
      text = absl::StrCat("with order ", step->order, ", overdue by ",
                          fact::Counted(over, "day", "days"));
      if (curve.ok()) {
        absl::StrAppend(&text, "; comes back within 90 days with odds of ",
                        static_cast<int>(100 * (1 - curve->Remaining(out, 90)) + .5), " %");
      }
    } else {
      continue;
    }
    ++count;
    worth += static_cast<double>(unit.cost_minor) / 100;
    figure.Record("units/" + unit.unit,
                  absl::StrCat(text, "; silent for ",
                               fact::Counted(static_cast<int64_t>(silent), "day", "days")),
                  static_cast<double>(unit.cost_minor) / 100, step->fact);
  }
  figure.PutRatio(static_cast<double>(count), looked > 0 ? 1 : 0, 1, looked);
  if (count > 0) {
    figure.PutPart("purchase cost", worth, count,
                   context.records().rules().settings().currency().c_str());
  }
  return figure.Take();
}

}  // namespace

std::vector<v1::Measure> FleetMeasures(const MeasureContext& context) {
  const std::vector<UnitDays> days = CountDays(context);
  return {
      DaysOf(context, days, "time-utilisation", "unit-days on rent of those owned",
             &UnitDays::rented, "unit-days with patients at the day's end / unit-days in the fleet",
             false),
      DaysOf(context, days, "cost-utilisation", "the same, each unit weighed by its purchase cost",
             &UnitDays::rented,
             "sum of cost x days with patients / sum of cost x days in the fleet", true),
      DaysOf(context, days, "earning-utilisation",
             "unit-days on rent after the operation and not overdue, of those owned",
             &UnitDays::paid,
             "unit-days with patients from the operation through the due day / unit-days in the "
             "fleet",
             false),
      DaysOf(context, days, "idle-share", "unit-days ready and free of those owned",
             &UnitDays::idle, "unit-days ready and free at the day's end / unit-days in the fleet",
             false),
      TurnsPerYear(context, days),
      NeverEarns(context, days),
      FinancialUtilisation(context, days),
      LossRate(context, days),
      SearchList(context),
  };
}

}  // namespace ferrule::outlook
