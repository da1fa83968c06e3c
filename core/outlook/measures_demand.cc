// Whether what was asked for was there, and what a turn cost at the bench.
#include <algorithm>
#include <map>
#include <utility>

#include "absl/strings/str_cat.h"
#include "absl/strings/str_format.h"
#include "core/fact/counted.h"
#include "core/outlook/figure.h"
#include "core/time/civil.h"

namespace ferrule::outlook {
namespace {

// What became of an order's wish for a day.
struct Wish {
  int64_t needed_day = kNever;  // as it stood before the first hand-over, or stands now
  int64_t out_day = kNever;
  bool withdrawn = false;  // cancelled on or before the needed day without a unit
  FactKey fact;            // that last set it
};

Wish WishOf(const MeasureContext& context, const OrderRecord& order) {
  Wish wish;
  for (const OrderStep& step : order.steps) {
    const int64_t day = context.DayOf(step.happened_us, order.branch);
    if (step.what == v1::Fact::kHandedOver) {
      wish.out_day = day;
      wish.fact = step.fact;
      return wish;
    }
    wish.needed_day = step.needed_day;
    wish.fact = step.fact;
    wish.withdrawn = step.status == v1::ORDER_STATUS_CANCELLED && day <= wish.needed_day;
  }
  return wish;
}

v1::Measure RequestsNotMet(const MeasureContext& context) {
  Figure figure(context, "requests-not-met", "demand", "orders without a unit on the needed day",
                "%",
                "orders not handed over by the needed day / orders needed on a day of the window "
                "and not cancelled by then; orders refused before they were taken are not in it");
  int64_t all = 0, missed = 0;
  for (const OrderRecord& order : context.records().orders) {
    if (!context.WantsOrder(order)) continue;
    const Wish wish = WishOf(context, order);
    if (wish.needed_day < context.first_day() || wish.needed_day > context.last_day()) continue;
    // The day is not over: nothing can be said of it yet.
    if (wish.needed_day >= context.DayOf(context.at_us(), order.branch)) continue;
    if (wish.withdrawn) continue;
    ++all;
    if (wish.out_day <= wish.needed_day) continue;
    ++missed;
    const std::string needed = time::FormatDay(time::DayFromNumber(wish.needed_day));
    figure.Record("orders/" + order.order,
                  wish.out_day == kNever
                      ? absl::StrCat("needed ", needed, ", no unit yet")
                      : absl::StrCat("needed ", needed, ", set up ",
                                     time::FormatDay(time::DayFromNumber(wish.out_day))),
                  1, wish.fact);
  }
  figure.PutRatio(static_cast<double>(missed), static_cast<double>(all), 100, all);
  return figure.Take();
}

// Units of a branch and class at a day's end.
struct Shelf {
  int64_t owned = 0;
  int64_t ready = 0;
  FactKey fact;
};

v1::Measure DaysWithoutReady(const MeasureContext& context) {
  Figure figure(context, "days-without-ready", "demand",
                "days on which a branch had no unit of a class ready and free", "%",
                "days of a branch and class with none ready and free at the day's end / days of a "
                "branch and class with units in the fleet");
  int64_t all = 0, empty = 0;
  std::map<std::pair<std::string, std::string>, std::pair<int64_t, FactKey>> bare;
  for (int64_t day = context.first_day(); day <= context.last_day(); ++day) {
    std::map<std::pair<std::string, std::string>, Shelf> shelves;
    const absl::CivilDay civil = time::DayFromNumber(day);
    for (const UnitRecord& unit : context.records().units) {
      const UnitStep* rough = StepAt(unit, time::StartOfDayMicros(civil + 1, absl::UTCTimeZone()));
      if (rough == nullptr) continue;
      const absl::TimeZone zone = context.ZoneOf(BranchOf(context.records(), *rough));
      const int64_t end_us = time::StartOfDayMicros(civil + 1, zone) - 1;
      const UnitStep* step = StepAt(unit, std::min(end_us, context.at_us()));
      if (step == nullptr || !InFleet(*step) || !context.WantsUnit(unit, *step)) continue;
      Shelf& shelf = shelves[{BranchOf(context.records(), *step), unit.device_class}];
      ++shelf.owned;
      if (step->ready && step->commitment == v1::COMMITMENT_FREE) ++shelf.ready;
      if (step->fact.sequence > shelf.fact.sequence) shelf.fact = step->fact;
    }
    for (const auto& [place, shelf] : shelves) {
      ++all;
      if (shelf.ready > 0) continue;
      ++empty;
      auto& [days, fact] = bare[place];
      ++days;
      fact = shelf.fact;
    }
  }
  for (const auto& [place, days] : bare) {
    figure.Record(absl::StrCat("branches/", place.first),
                  absl::StrCat("no ", place.second, " ready and free on ",
                               fact::Counted(days.first, "day", "days")),
                  static_cast<double>(days.first), days.second);
  }
  figure.PutRatio(static_cast<double>(empty), static_cast<double>(all), 100, all);
  return figure.Take();
}

v1::Measure RepairCostPerTurn(const MeasureContext& context) {
  Figure figure(context, "repair-cost-per-turn", "bench", "cost of repairs for each turn",
                context.records().rules().settings().currency().c_str(),
                "cost of the repairs closed in the window / rentals that ended in it; driving, "
                "cleaning and soft goods are not in the records as money and not in it");
  double cost = 0;
  int64_t turns = 0, unpriced = 0;
  for (const Turn& turn : context.turns()) {
    const OrderRecord* order = context.records().FindOrder(turn.order);
    if (turn.lost || order == nullptr || !context.WantsTurn(turn)) continue;
    if (context.Within(turn.back_us, order->branch)) ++turns;
  }
  for (const UnitRecord& unit : context.records().units) {
    for (const UnitStep& step : unit.steps) {
      if (step.what != v1::Fact::kRepairClosed || !context.WantsUnit(unit, step)) continue;
      if (!context.Within(step.happened_us, BranchOf(context.records(), step))) continue;
      if (step.of == 0) ++unpriced;
      const double own = static_cast<double>(step.of) / 100;
      cost += own;
      figure.Record("units/" + unit.unit, absl::StrFormat("repair for %.2f", own), own, step.fact);
    }
  }
  figure.PutRatio(cost, static_cast<double>(turns), 1, turns);
  if (unpriced > 0) {
    figure.Missing(fact::Counted(unpriced, "repair has no cost and counts as nothing",
                                 "repairs have no cost and count as nothing"));
  }
  return figure.Take();
}

}  // namespace

std::vector<v1::Measure> DemandMeasures(const MeasureContext& context) {
  return {RepairCostPerTurn(context), RequestsNotMet(context), DaysWithoutReady(context)};
}

}  // namespace ferrule::outlook
