// What happens in the home: whether the device is used as prescribed, whether papers prove that it
// came, how fast it works again after a call, how fast complaints are answered.
#include <algorithm>

#include "absl/strings/str_cat.h"
#include "absl/strings/str_format.h"
#include "core/fact/counted.h"
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
    figure.Record(
        "orders/" + order.order,
        absl::StrFormat("%.1f of %.1f h on %s", own, asked, fact::Counted(days, "day", "days")),
        own, order.steps.empty() ? FactKey{} : order.steps.back().fact);
  }
  figure.PutRatio(used, prescribed, 100, orders);
  if (doubtful > 0 || silent > 0) {
    figure.Missing(absl::StrCat(fact::Counted(doubtful, "reading in doubt is set aside, and ",
                                              "readings in doubt are set aside, and "),
                                fact::Counted(silent, "order does not say how many hours a day",
                                              "orders do not say how many hours a day")));
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

constexpr double kHourUs = 3'600'000'000.0;

// The call that a device does not work, and what became of it.
struct Breakdown {
  const OrderStep* reported = nullptr;
  const OrderStep* ended = nullptr;  // null while it goes on
  bool settled = false;              // not ended by the pick-up alone
};

std::vector<Breakdown> BreakdownsOf(const OrderRecord& order) {
  std::vector<Breakdown> out;
  for (const OrderStep& step : order.steps) {
    const bool open = !out.empty() && out.back().ended == nullptr;
    const bool over = step.what == v1::Fact::kPickedUp && step.status == v1::ORDER_STATUS_CLOSED;
    const bool works =
        step.what == v1::Fact::kBreakdownSettled || step.what == v1::Fact::kExchanged;
    if (open && (over || works)) {
      out.back().ended = &step;
      out.back().settled = !over;
    } else if (!open && step.what == v1::Fact::kBreakdownReported) {
      out.push_back({&step});
    }
  }
  return out;
}

v1::Measure BreakdownResponse(const MeasureContext& context) {
  Figure figure(context, "breakdown-response", "field", "from the call until it works again", "h",
                "working again - call received, of calls in the window; by the product-limit "
                "curve, those that go on or ended with the pick-up count as not settled");
  std::vector<plan::Stay> times;
  for (const OrderRecord& order : context.records().orders) {
    if (!context.WantsOrder(order)) continue;
    for (const Breakdown& breakdown : BreakdownsOf(order)) {
      if (!context.Within(breakdown.reported->happened_us, order.branch)) continue;
      const int64_t end_us =
          breakdown.ended == nullptr ? context.at_us() : breakdown.ended->happened_us;
      const double hours = static_cast<double>(end_us - breakdown.reported->happened_us) / kHourUs;
      // Whatever was settled within the call took some time all the same.
      times.push_back({std::max(hours, 1.0 / 60), breakdown.settled, 0});
      figure.Record("orders/" + order.order,
                    absl::StrFormat("%.1f h%s", hours, breakdown.settled ? "" : ", not settled"),
                    hours, breakdown.reported->fact);
    }
  }
  figure.PutTimes(times);
  return figure.Take();
}

constexpr int kLateDays = 5;

v1::Measure ComplaintResponse(const MeasureContext& context) {
  Figure figure(context, "complaint-response", "field", "from a complaint to its first answer", "d",
                "first answer - received, of complaints in the window; by the product-limit "
                "curve, those without an answer count as open");
  std::vector<plan::Stay> times;
  int64_t late = 0;
  for (const ComplaintRecord& complaint : context.records().complaints) {
    if (!context.Wants(complaint.branch, "")) continue;
    if (!context.Within(complaint.received_us, complaint.branch)) continue;
    const bool answered = complaint.answered_us != kNever;
    // What was withdrawn before anybody answered waits for nothing.
    if (!answered && complaint.closed) continue;
    const int64_t end_us = answered ? complaint.answered_us : context.at_us();
    const double days = static_cast<double>(end_us - complaint.received_us) / kDayUs;
    times.push_back({std::max(days, 1.0 / 1'440), answered, 0});
    if (!answered && days > kLateDays) ++late;
    figure.Record("complaints/" + complaint.complaint,
                  absl::StrFormat("%.1f days%s", days, answered ? "" : ", no answer yet"), days,
                  complaint.received);
  }
  figure.PutTimes(times);
  if (!times.empty()) {
    figure.PutPart(absl::StrCat("open for more than ", kLateDays, " days"),
                   static_cast<double>(late), static_cast<int64_t>(times.size()), "complaints");
  }
  return figure.Take();
}

}  // namespace

std::vector<v1::Measure> HomeMeasures(const MeasureContext& context) {
  return {UsageAdherence(context), DeliveryProved(context), BreakdownResponse(context),
          ComplaintResponse(context)};
}

}  // namespace ferrule::outlook
