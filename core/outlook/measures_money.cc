// Whether rentals are billed, and for which days.
#include <algorithm>
#include <map>

#include "absl/strings/str_cat.h"
#include "core/outlook/figure.h"
#include "core/time/civil.h"

namespace ferrule::outlook {

double BilledMinor(const OrderRecord& order, int64_t first_day, int64_t last_day) {
  std::map<int64_t, double> by_day;
  for (const OrderStep& step : order.steps) {
    if (!step.billing || step.billing->last_day < step.billing->first_day) continue;
    const Billing& b = *step.billing;
    const double each =
        static_cast<double>(b.amount_minor) / static_cast<double>(b.last_day - b.first_day + 1);
    for (int64_t day = std::max(b.first_day, first_day); day <= std::min(b.last_day, last_day);
         ++day) {
      double& amount = by_day[day];
      amount = b.correction ? each : amount + each;
    }
  }
  double sum = 0;
  for (const auto& [day, amount] : by_day) sum += amount;
  return sum;
}

namespace {

v1::Measure UnbilledRentals(const MeasureContext& context) {
  Figure figure(context, "unbilled-rentals", "money", "ended rentals of which no day was billed",
                "%",
                "rentals that ended in the window without a day billed by now / rentals that ended "
                "in the window");
  int64_t ended = 0, unbilled = 0, billed_ever = 0;
  for (const OrderRecord& order : context.records().orders) {
    const bool billed = std::any_of(order.steps.begin(), order.steps.end(), [](const OrderStep& s) {
      return s.what == v1::Fact::kDaysBilled;
    });
    billed_ever += billed ? 1 : 0;
    if (!context.WantsOrder(order) || order.steps.empty()) continue;
    if (order.steps.back().status != v1::ORDER_STATUS_CLOSED) continue;
    // The last one ended it: an exchange or a second unit goes on.
    const auto last =
        std::find_if(order.steps.rbegin(), order.steps.rend(), [](const OrderStep& s) {
          return s.what == v1::Fact::kPickedUp || s.what == v1::Fact::kCarriedOver;
        });
    if (last == order.steps.rend() || !context.Within(last->happened_us, order.branch)) continue;
    ++ended;
    if (billed) continue;
    ++unbilled;
    const int64_t day = context.DayOf(last->happened_us, order.branch);
    figure.Record(
        "orders/" + order.order,
        absl::StrCat("ended ", time::FormatDay(time::DayFromNumber(day)), ", nothing billed"), 1,
        last->fact);
  }
  figure.PutRatio(static_cast<double>(unbilled), static_cast<double>(ended), 100, ended);
  if (ended > 0 && billed_ever == 0) {
    figure.Missing("no bill was ever noted here: where bills are kept elsewhere this says nothing");
  }
  return figure.Take();
}

}  // namespace

std::vector<v1::Measure> MoneyMeasures(const MeasureContext& context) {
  return {UnbilledRentals(context)};
}

}  // namespace ferrule::outlook
