// What was promised, refused and waited for, and how good forecasts were that were kept.
#include <algorithm>
#include <array>
#include <cmath>

#include "absl/strings/str_cat.h"
#include "absl/strings/str_format.h"
#include "core/fact/counted.h"
#include "core/outlook/backtest.h"
#include "core/outlook/figure.h"
#include "core/time/civil.h"

namespace ferrule::outlook {
namespace {

std::string DayText(int64_t day) { return time::FormatDay(time::DayFromNumber(day)); }

// The promise that stood when its first day came; null when there was none, or when the order no
// longer wanted a unit on that day.
const OrderStep* StandingPromise(const MeasureContext& context, const OrderRecord& order) {
  const OrderStep* promise = nullptr;
  for (const OrderStep& step : order.steps) {
    const int64_t day = context.DayOf(step.happened_us, order.branch);
    if (promise != nullptr && day > promise->of_day) break;
    if (step.what == v1::Fact::kHandedOver || step.what == v1::Fact::kCarriedOver) break;
    if (step.what == v1::Fact::kUnitPromised && step.of_day != kNever) promise = &step;
    const bool withdrawn =
        step.status == v1::ORDER_STATUS_CANCELLED ||
        (promise != nullptr && step.needed_day != kNever && step.needed_day > promise->of_day);
    if (withdrawn && step.what != v1::Fact::kUnitPromised) promise = nullptr;
  }
  return promise;
}

v1::Measure PromiseKept(const MeasureContext& context) {
  Figure figure(context, "promise-kept", "demand", "promises kept on their day", "%",
                "orders handed over by the first day promised / promises that stood when that day "
                "came, in the window; orders cancelled or moved to a later day by then are left "
                "out; parts by the odds that were told");
  constexpr std::array<int64_t, 4> kFrom = {0, 500, 800, 950};
  constexpr std::array<const char*, 4> kWords = {"told below 50 %", "told 50 % to below 80 %",
                                                 "told 80 % to below 95 %", "told 95 % and more"};
  struct Band {
    int64_t all = 0, kept = 0;
  };
  std::array<Band, kFrom.size()> bands;
  int64_t all = 0, kept = 0, untold = 0;
  for (const OrderRecord& order : context.records().orders) {
    if (!context.WantsOrder(order)) continue;
    const OrderStep* promise = StandingPromise(context, order);
    if (promise == nullptr || promise->of_day < context.first_day() ||
        promise->of_day > context.last_day() ||
        promise->of_day >= context.DayOf(context.at_us(), order.branch))
      continue;
    const auto out = std::find_if(order.steps.begin(), order.steps.end(), [](const OrderStep& s) {
      return s.what == v1::Fact::kHandedOver || s.what == v1::Fact::kCarriedOver;
    });
    const bool good = out != order.steps.end() &&
                      context.DayOf(out->happened_us, order.branch) <= promise->of_day;
    ++all;
    kept += good ? 1 : 0;
    if (promise->value > 0) {
      size_t band = 0;
      while (band + 1 < kFrom.size() && promise->value >= kFrom[band + 1]) ++band;
      ++bands[band].all;
      bands[band].kept += good ? 1 : 0;
    } else {
      ++untold;
    }
    if (good) continue;
    figure.Record("orders/" + order.order,
                  absl::StrFormat("promised for %s with odds of %.1f %%", DayText(promise->of_day),
                                  static_cast<double>(promise->value) / 10),
                  1, promise->fact);
  }
  figure.PutRatio(static_cast<double>(kept), static_cast<double>(all), 100, all);
  for (size_t i = 0; i < bands.size(); ++i) {
    if (bands[i].all == 0) continue;
    figure.PutPart(kWords[i],
                   100 * static_cast<double>(bands[i].kept) / static_cast<double>(bands[i].all),
                   bands[i].all);
  }
  if (untold > 0)
    figure.Missing(fact::Counted(untold, "promise was given without odds",
                                 "promises were given without odds"));
  return figure.Take();
}

v1::Measure PromisesRefused(const MeasureContext& context) {
  Figure figure(context, "promises-refused", "demand", "orders refused a unit for a day asked for",
                "%",
                "orders refused a promise for a day of the window / orders refused or promised a "
                "unit for one; each order once in each");
  int64_t all = 0, refused = 0;
  for (const OrderRecord& order : context.records().orders) {
    if (!context.WantsOrder(order)) continue;
    const OrderStep* refusal = nullptr;
    bool asked = false;
    for (const OrderStep& step : order.steps) {
      if (step.of_day == kNever || step.of_day < context.first_day() ||
          step.of_day > context.last_day())
        continue;
      const bool no = step.what == v1::Fact::kPromiseRefused;
      if (no && refusal == nullptr) refusal = &step;
      asked |= no || step.what == v1::Fact::kUnitPromised;
    }
    all += asked ? 1 : 0;
    if (refusal == nullptr) continue;
    ++refused;
    figure.Record("orders/" + order.order, "asked for " + DayText(refusal->of_day), 1,
                  refusal->fact);
  }
  figure.PutRatio(static_cast<double>(refused), static_cast<double>(all), 100, all);
  return figure.Take();
}

// Days on which an order was without the unit that it needed, within the window.
v1::Measure UnitDaysShort(const MeasureContext& context) {
  Figure figure(context, "unit-days-short", "demand",
                "days that orders waited beyond the day needed", "unit-days",
                "days of the window from the needed day to the day before the hand-over or the "
                "cancellation, over all orders; one still waiting counts to yesterday");
  int64_t days = 0, orders = 0, open = 0;
  for (const OrderRecord& order : context.records().orders) {
    if (!context.WantsOrder(order) || order.steps.empty()) continue;
    int64_t needed = kNever, end = kNever;
    const OrderStep* last = nullptr;
    for (const OrderStep& step : order.steps) {
      last = &step;
      if (step.what == v1::Fact::kHandedOver || step.what == v1::Fact::kCarriedOver ||
          step.status == v1::ORDER_STATUS_CANCELLED) {
        end = context.DayOf(step.happened_us, order.branch);
        break;
      }
      needed = step.needed_day;
    }
    ++orders;
    if (needed == kNever) continue;
    const int64_t now = context.DayOf(context.at_us(), order.branch);
    const int64_t from = std::max(needed, context.first_day());
    const int64_t to = std::min({end, now, context.last_day() + 1});
    if (to <= from) continue;
    days += to - from;
    open += end == kNever ? 1 : 0;
    figure.Record("orders/" + order.order,
                  absl::StrCat("needed ", DayText(needed), ", without a unit on ",
                               fact::Counted(to - from, "day", "days"),
                               end == kNever ? ", still waiting" : ""),
                  static_cast<double>(to - from), last->fact);
  }
  figure.PutRatio(static_cast<double>(days), orders > 0 ? 1 : 0, 1, orders);
  figure.Open(open);
  return figure.Take();
}

v1::Measure ForecastError(const MeasureContext& context) {
  Figure figure(context, "forecast-error", "demand", "error of the forecasts that were kept", "%",
                "sum of |units in use - median forecast| / sum of units in use, over the days of "
                "the window that kept forecasts spoke of and that have come");
  double error = 0, naive = 0, actual = 0, bias = 0;
  int64_t cases = 0, inside = 0;
  size_t of = SIZE_MAX;
  double own = 0;
  const auto close = [&] {
    if (of == SIZE_MAX) return;
    const v1::ForecastNoted& noted = context.records().diary[of];
    figure.Record(
        "branches/" + noted.branch(),
        absl::StrFormat("forecast of %s: off by %.0f unit-days",
                        time::FormatDay(time::ToDay(noted.as_of_date())), own),
        own,
        of < context.records().diary_facts.size() ? context.records().diary_facts[of] : FactKey{});
    own = 0;
  };
  EachDiaryCase(context.records(), context.at_us(), [&](const DiaryCase& one) {
    if (one.day < context.first_day() || one.day > context.last_day()) return;
    if (!context.Wants(one.score.branch, one.score.device_class)) return;
    if (one.noted != of) close(), of = one.noted;
    const auto& q = one.score.forecast.quantiles;  // at .025 .1 .5 .9 .95 .975 .99
    const double y = one.score.actual;
    own += std::abs(y - q[2]);
    error += std::abs(y - q[2]);
    naive += std::abs(y - one.score.naive);
    bias += one.score.forecast.mean - y;
    actual += y;
    ++cases;
    inside += y >= q[1] && y <= q[3] ? 1 : 0;
  });
  close();
  figure.PutRatio(error, actual, 100, cases);
  if (cases == 0) return figure.Take();
  const auto n = static_cast<double>(cases);
  figure.PutPart("mean error, units", error / n, cases, "units");
  if (naive > 0) figure.PutPart("error of that of last week's same day", error / naive, cases, "x");
  if (actual > 0) figure.PutPart("bias", 100 * bias / actual, cases, "%");
  figure.PutPart("days within the 80 % bounds", 100 * static_cast<double>(inside) / n, cases, "%");
  return figure.Take();
}

}  // namespace

std::vector<v1::Measure> PromiseMeasures(const MeasureContext& context) {
  return {PromisesRefused(context), PromiseKept(context), UnitDaysShort(context),
          ForecastError(context)};
}

}  // namespace ferrule::outlook
