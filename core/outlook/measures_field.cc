// Orders, homes and returns: on time, overdue, short, lost on the way.
#include <algorithm>
#include <array>

#include "absl/strings/str_cat.h"
#include "core/fact/counted.h"
#include "core/outlook/figure.h"
#include "core/time/civil.h"

namespace ferrule::outlook {
namespace {

std::string DayText(int64_t day) { return time::FormatDay(time::DayFromNumber(day)); }

// The first hand-over and the last pick-up of an order, as far as they have come.
struct Rental {
  const OrderRecord* order = nullptr;
  const OrderStep* out = nullptr;
  const OrderStep* back = nullptr;
  int64_t due_day = kNever;       // as known now
  int64_t first_needed = kNever;  // as known just before the hand-over
};

std::vector<Rental> Rentals(const MeasureContext& context) {
  std::vector<Rental> rentals;
  for (const OrderRecord& order : context.records().orders) {
    if (!context.WantsOrder(order)) continue;
    Rental rental;
    rental.order = &order;
    for (const OrderStep& step : order.steps) {
      if (step.what == v1::Fact::kHandedOver && rental.out == nullptr) rental.out = &step;
      if (step.what == v1::Fact::kPickedUp) rental.back = &step;
      if (rental.out == nullptr) rental.first_needed = step.needed_day;
      if (step.due_day != kNever) rental.due_day = step.due_day;
    }
    if (rental.back != nullptr && order.steps.back().status == v1::ORDER_STATUS_ON_RENT) {
      rental.back = nullptr;  // another unit is still there
    }
    if (rental.out != nullptr) rentals.push_back(rental);
  }
  return rentals;
}

v1::Measure DaysToPickUp(const MeasureContext& context, const std::vector<Rental>& rentals) {
  Figure figure(context, "days-to-pick-up", "field", "days from the due day to the pick-up", "days",
                "pick-up day - due day as known now, of rentals due in the window; units still out "
                "count as lasting at least until now; before or on the due day is 0");
  std::vector<plan::Stay> times;
  for (const Rental& r : rentals) {
    if (r.due_day < context.first_day() || r.due_day > context.last_day()) continue;
    const int64_t end =
        context.DayOf(r.back != nullptr ? r.back->happened_us : context.at_us(), r.order->branch);
    const auto days = static_cast<double>(std::max<int64_t>(0, end - r.due_day));
    // Whole days: one that lasted 0 days ended within the first.
    times.push_back({days + 1, r.back != nullptr, 0});
    figure.Record("orders/" + r.order->order,
                  absl::StrCat("due ", DayText(r.due_day), ", ",
                               r.back != nullptr ? "picked up " : "still out ", DayText(end)),
                  days, (r.back != nullptr ? r.back : r.out)->fact);
  }
  figure.PutTimes(times);
  v1::Measure measure = figure.Take();
  if (measure.has_value()) measure.set_value(measure.value() - 1);
  for (v1::MeasurePart& part : *measure.mutable_parts()) part.set_value(part.value() - 1);
  measure.set_numerator_value(measure.numerator_value() - measure.denominator_value());
  return measure;
}

v1::Measure OverdueRate(const MeasureContext& context, const std::vector<Rental>& rentals) {
  Figure figure(context, "overdue-rate", "field", "units with patients that are overdue", "%",
                "units out past the due day / units out, at the end of the window");
  constexpr std::array<int64_t, 5> kFrom = {1, 4, 8, 15, 31};
  std::array<int64_t, 5> buckets{};
  int64_t out = 0, overdue = 0;
  for (const Rental& r : rentals) {
    if (context.DayOf(r.out->happened_us, r.order->branch) > context.last_day()) continue;
    if (r.back != nullptr &&
        context.DayOf(r.back->happened_us, r.order->branch) <= context.last_day()) {
      continue;
    }
    ++out;
    if (r.due_day == kNever || r.due_day >= context.last_day()) continue;
    ++overdue;
    const int64_t days = context.last_day() - r.due_day;
    size_t bucket = 0;
    while (bucket + 1 < kFrom.size() && days >= kFrom[bucket + 1]) ++bucket;
    ++buckets[bucket];
    figure.Record("orders/" + r.order->order, fact::Counted(days, "day overdue", "days overdue"),
                  static_cast<double>(days), r.out->fact);
  }
  figure.PutRatio(static_cast<double>(overdue), static_cast<double>(out), 100, out);
  const char* const names[] = {"1-3 days", "4-7 days", "8-14 days", "15-30 days", "over 30 days"};
  for (size_t b = 0; b < buckets.size(); ++b) {
    figure.PutPart(names[b], static_cast<double>(buckets[b]), buckets[b], "units");
  }
  return figure.Take();
}

v1::Measure FailedPickups(const MeasureContext& context) {
  Figure figure(context, "failed-pick-ups", "field", "attempts to pick up that failed", "%",
                "failed attempts / (failed attempts + pick-ups)");
  int64_t failed = 0, all = 0;
  for (const OrderRecord& order : context.records().orders) {
    if (!context.WantsOrder(order)) continue;
    for (const OrderStep& step : order.steps) {
      const bool bad = step.what == v1::Fact::kPickupFailed;
      if (!bad && step.what != v1::Fact::kPickedUp) continue;
      if (!context.Within(step.happened_us, order.branch)) continue;
      ++all;
      if (!bad) continue;
      ++failed;
      figure.Record("orders/" + order.order, step.sender.empty() ? "failed" : step.sender, 1,
                    step.fact);
    }
  }
  figure.PutRatio(static_cast<double>(failed), static_cast<double>(all), 100, all);
  return figure.Take();
}

v1::Measure OnTimeSetUp(const MeasureContext& context, const std::vector<Rental>& rentals) {
  Figure figure(context, "on-time-set-up", "field", "set-ups by the day on which they were needed",
                "%",
                "hand-overs on or before the needed day as known before the hand-over / hand-overs "
                "with a needed day");
  int64_t all = 0, good = 0, unknown = 0;
  for (const Rental& r : rentals) {
    if (!context.Within(r.out->happened_us, r.order->branch)) continue;
    if (r.first_needed == kNever) {
      ++unknown;
      continue;
    }
    ++all;
    const int64_t day = context.DayOf(r.out->happened_us, r.order->branch);
    const bool on_time = day <= r.first_needed;
    good += on_time ? 1 : 0;
    if (!on_time) {
      figure.Record("orders/" + r.order->order,
                    absl::StrCat("needed ", DayText(r.first_needed), ", set up ", DayText(day)),
                    static_cast<double>(day - r.first_needed), r.out->fact);
    }
  }
  figure.PutRatio(static_cast<double>(good), static_cast<double>(all), 100, all);
  if (unknown > 0) figure.Missing(absl::StrCat(unknown, " hand-overs had no needed day"));
  return figure.Take();
}

v1::Measure ExchangeRate(const MeasureContext& context) {
  Figure figure(context, "exchange-rate", "field", "units exchanged in the home",
                "per 1,000 unit-days",
                "exchanges / unit-days on rent x 1,000; elapsed days of 24 h");
  int64_t exchanges = 0;
  double days = 0;
  for (const Turn& turn : context.turns()) {
    const OrderRecord* order = context.records().FindOrder(turn.order);
    if (order == nullptr || !context.WantsTurn(turn)) continue;
    const int64_t from = std::max(turn.out_us, context.FromUs(order->branch));
    const int64_t to = std::min(turn.back_us, context.ToUs(order->branch));
    if (to > from) days += static_cast<double>(to - from) / kDayUs;
    if (!turn.exchange || !context.Within(turn.out_us, order->branch)) continue;
    ++exchanges;
    figure.Record("orders/" + turn.order,
                  "unit " + context.records().units[turn.unit].unit + " replaced another", 1,
                  turn.out_fact);
  }
  figure.PutRatio(static_cast<double>(exchanges), days, 1000, exchanges);
  return figure.Take();
}

v1::Measure AccessoryLoss(const MeasureContext& context) {
  Figure figure(context, "accessory-loss", "field", "accessories missing at pick-up", "%",
                "accessories missing / accessories expected at pick-ups");
  int64_t missing = 0, expected = 0;
  for (const UnitRecord& unit : context.records().units) {
    for (const UnitStep& step : unit.steps) {
      if (step.what != v1::Fact::kPickedUp || !context.WantsUnit(unit, step)) continue;
      if (!context.Within(step.happened_us, BranchOf(context.records(), step))) continue;
      expected += step.of;
      missing += step.value;
      if (step.value > 0) {
        figure.Record("units/" + unit.unit, absl::StrCat(step.value, " missing"),
                      static_cast<double>(step.value), step.fact);
      }
    }
  }
  figure.PutRatio(static_cast<double>(missing), static_cast<double>(expected), 100, expected);
  return figure.Take();
}

v1::Measure OrderCompleteness(const MeasureContext& context) {
  Figure figure(context, "order-completeness", "records",
                "orders that had everything to go out when they came", "%",
                "orders complete when taken / orders taken in the window");
  int64_t all = 0, complete = 0;
  for (const OrderRecord& order : context.records().orders) {
    if (!context.WantsOrder(order) || order.steps.empty()) continue;
    const OrderStep& first = order.steps.front();
    if (first.what != v1::Fact::kOrderTaken || !context.Within(first.happened_us, order.branch)) {
      continue;
    }
    ++all;
    complete += first.complete ? 1 : 0;
    if (!first.complete) {
      figure.Record("orders/" + order.order, "something was missing", 1, first.fact);
    }
  }
  figure.PutRatio(static_cast<double>(complete), static_cast<double>(all), 100, all);
  return figure.Take();
}

v1::Measure ExtensionLateness(const MeasureContext& context) {
  Figure figure(context, "extension-lateness", "records", "extensions that came after the due day",
                "%", "extensions after the due day as it stood before them / extensions");
  int64_t all = 0, late = 0;
  for (const OrderRecord& order : context.records().orders) {
    if (!context.WantsOrder(order)) continue;
    int64_t due = kNever;
    for (const OrderStep& step : order.steps) {
      if (step.what == v1::Fact::kOrderExtended && context.Within(step.happened_us, order.branch)) {
        ++all;
        const int64_t day = context.DayOf(step.happened_us, order.branch);
        if (due != kNever && day > due) {
          ++late;
          figure.Record("orders/" + order.order,
                        fact::Counted(day - due, "day after the due day", "days after the due day"),
                        static_cast<double>(day - due), step.fact);
        }
      }
      due = step.due_day;
    }
  }
  figure.PutRatio(static_cast<double>(late), static_cast<double>(all), 100, all);
  return figure.Take();
}

// Odds that a unit comes back more than so many days after its due day, from ended and open
// rentals together.
v1::Measure LateReturnOdds(const MeasureContext& context, const std::vector<Rental>& rentals) {
  Figure figure(context, "late-return-odds", "field",
                "odds that a unit comes back later than its due day", "%",
                "product-limit curve of the days after the due day, of rentals due in the window; "
                "units still out count as lasting at least until now");
  std::vector<plan::Stay> times;
  std::map<int, std::vector<plan::Stay>> by_length;
  for (const Rental& r : rentals) {
    if (r.due_day < context.first_day() || r.due_day > context.last_day()) continue;
    const int64_t end =
        context.DayOf(r.back != nullptr ? r.back->happened_us : context.at_us(), r.order->branch);
    const plan::Stay stay{static_cast<double>(std::max<int64_t>(0, end - r.due_day)) + 1,
                          r.back != nullptr, 0};
    times.push_back(stay);
    by_length[r.order->steps.back().length_days].push_back(stay);
    if (end > r.due_day) {
      figure.Record(
          "orders/" + r.order->order, fact::Counted(end - r.due_day, "day late", "days late"),
          static_cast<double>(end - r.due_day), (r.back != nullptr ? r.back : r.out)->fact);
    }
  }
  const auto beyond = [](const std::vector<plan::Stay>& stays, int days) {
    const auto curve = plan::ProductLimit(stays);
    return curve.ok() ? 100 * curve->At(days + 1) : 0;
  };
  const auto n = static_cast<int64_t>(times.size());
  if (n > 0) figure.PutRatio(beyond(times, 0), 100, 100, n);
  figure.Open(
      std::count_if(times.begin(), times.end(), [](const plan::Stay& s) { return !s.ended; }));
  for (const int days : {3, 7, 14, 30}) {
    if (n > 0) {
      figure.PutPart(absl::StrCat("more than ", days, " days late"), beyond(times, days), n);
    }
  }
  for (const auto& [length, stays] : by_length) {
    if (stays.size() < 10) continue;
    figure.PutPart(length > 0 ? "prescribed for " + fact::Counted(length, "day", "days")
                              : std::string("no length prescribed"),
                   beyond(stays, 0), static_cast<int64_t>(stays.size()));
  }
  return figure.Take();
}

}  // namespace

std::vector<v1::Measure> FieldMeasures(const MeasureContext& context) {
  const std::vector<Rental> rentals = Rentals(context);
  return {
      DaysToPickUp(context, rentals),   OverdueRate(context, rentals), FailedPickups(context),
      OnTimeSetUp(context, rentals),    ExchangeRate(context),         AccessoryLoss(context),
      LateReturnOdds(context, rentals), OrderCompleteness(context),    ExtensionLateness(context)};
}

}  // namespace ferrule::outlook
