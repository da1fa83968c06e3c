// What happens in the home: whether the device is used as prescribed, and whether papers prove that
// it came.
#include <algorithm>

#include "absl/strings/str_cat.h"
#include "absl/strings/str_format.h"
#include "core/outlook/figure.h"

namespace ferrule::outlook {
namespace {

v1::Measure UsageAdherence(const MeasureContext& context) {
  Figure figure(context, "usage-adherence", "field", "use of the device of what is prescribed", "%",
                "hours used / (hours a day prescribed x days), of readings that ended in the "
                "window; readings in doubt are set aside; how much to use it is the prescriber's "
                "to say");
  double used = 0, prescribed = 0;
  int64_t orders = 0, doubtful = 0, silent = 0;
  for (const OrderRecord& order : context.records().orders) {
    if (!context.WantsOrder(order)) continue;
    double own = 0;
    int64_t days = 0;
    for (const UseSpan& span : order.use) {
      if (span.last_day < context.first_day() || span.last_day > context.last_day()) continue;
      own += static_cast<double>(span.used_s) / 3600;
      days += span.days;
    }
    if (days == 0) continue;
    doubtful += order.doubtful_readings;
    if (order.prescribed_daily_s <= 0) {
      ++silent;
      continue;
    }
    ++orders;
    const double asked =
        static_cast<double>(order.prescribed_daily_s) / 3600 * static_cast<double>(days);
    used += own;
    prescribed += asked;
    figure.Record("orders/" + order.order,
                  absl::StrFormat("%.1f of %.1f h on %d days", own, asked, days), own,
                  order.steps.empty() ? FactKey{} : order.steps.back().fact);
  }
  figure.PutRatio(used, prescribed, 100, orders);
  if (doubtful > 0 || silent > 0) {
    figure.Missing(absl::StrCat(doubtful, " readings in doubt are set aside, and ", silent,
                                " orders do not say how many hours a day"));
  }
  return figure.Take();
}

// Judged by the first ticket: one that is cured later was not right the first time.
v1::Measure DeliveryProved(const MeasureContext& context) {
  Figure figure(context, "delivery-proved", "field",
                "hand-overs whose first delivery ticket proved them", "%",
                "hand-overs in the window whose first ticket had nothing against it / hand-overs "
                "in the window; those without a ticket yet count as open and not as proved");
  int64_t all = 0, proved = 0, open = 0;
  for (const OrderRecord& order : context.records().orders) {
    if (!context.WantsOrder(order)) continue;
    const auto out = std::find_if(order.steps.begin(), order.steps.end(), [](const OrderStep& s) {
      return s.what == v1::Fact::kHandedOver;
    });
    if (out == order.steps.end() || !context.Within(out->happened_us, order.branch)) continue;
    ++all;
    const auto ticket = std::find_if(out, order.steps.end(), [](const OrderStep& s) {
      return s.what == v1::Fact::kTicketReturned;
    });
    if (ticket == order.steps.end()) {
      ++open;
      figure.Record("orders/" + order.order, "no ticket has come back", 1, out->fact);
    } else if (ticket->value == 0) {
      figure.Record("orders/" + order.order, "the first ticket did not prove it", 1, ticket->fact);
    } else {
      ++proved;
    }
  }
  figure.PutRatio(static_cast<double>(proved), static_cast<double>(all), 100, all);
  figure.Open(open);
  return figure.Take();
}

}  // namespace

std::vector<v1::Measure> HomeMeasures(const MeasureContext& context) {
  return {UsageAdherence(context), DeliveryProved(context)};
}

}  // namespace ferrule::outlook
