#include "core/trace/retention.h"

#include <algorithm>
#include <set>
#include <utility>

#include "absl/strings/str_cat.h"
#include "core/fact/words.h"
#include "core/time/civil.h"

namespace ferrule::trace {
namespace {

std::optional<absl::CivilDay> DayIf(bool there, const google::type::Date& date) {
  if (!there || !time::IsValid(date)) return std::nullopt;
  return time::ToDay(date);
}

void TakeLater(std::optional<absl::CivilDay> day, std::optional<absl::CivilDay>* latest) {
  if (day && (!*latest || **latest < *day)) *latest = day;
}

// The day from which a rule counts for one order that does not run any more.
absl::CivilDay AnchorOf(v1::RetentionAnchor anchor, const OrderDays& order) {
  std::optional<absl::CivilDay> day;
  if (anchor == v1::RETENTION_ANCHOR_DELIVERED) day = order.delivered;
  if (anchor == v1::RETENTION_ANCHOR_ENDED) day = order.ended;
  if (anchor == v1::RETENTION_ANCHOR_BILLED) day = order.billed;
  return day.value_or(order.last);
}

struct Keeper {
  absl::CivilDay anchor;
  absl::CivilDay free;
  std::string order;  // full name; empty when it is the record's own day
  const v1::RetentionRule* rule = nullptr;
};

// What one rule says of the record: a keeper for each order, or one for its own days.
void Collect(const v1::RetentionRule& rule, const KeptRecord& record, std::vector<Keeper>* out) {
  const auto add = [&](absl::CivilDay anchor, const std::string& order) {
    out->push_back({anchor, FirstFreeDay(anchor, rule.month_count()), order, &rule});
  };
  if (rule.anchor() == v1::RETENTION_ANCHOR_CLOSED) {
    if (record.closed) add(*record.closed, "");
    return;
  }
  // A message that became no order has no other day.
  if (rule.anchor() == v1::RETENTION_ANCHOR_RECEIVED || record.orders.empty()) {
    if (record.received) add(*record.received, "");
    return;
  }
  for (const OrderDays* order : record.orders) add(AnchorOf(rule.anchor(), *order), order->name);
}

void NameOrders(const KeptRecord& record, const std::vector<Keeper>& keepers, v1::RecordDue* due) {
  std::set<std::string> named;
  for (const Keeper& keeper : keepers) {
    if (!keeper.order.empty() && named.insert(keeper.order).second) due->add_orders(keeper.order);
  }
  for (const OrderDays* order : record.orders) {
    if (named.insert(order->name).second) due->add_orders(order->name);
  }
}

std::string WhyKept(const KeptRecord& record, const v1::RecordDue& due, bool ruled) {
  for (const v1::RecordsHold& hold : due.holds()) {
    return absl::StrCat("held for ", hold.matter(), ": ", hold.because());
  }
  if (record.open) return "it is not closed";
  for (const OrderDays* order : record.orders) {
    if (order->running) return absl::StrCat(order->name, " is not over");
  }
  if (!ruled) {
    return absl::StrCat("no rule says how long ", std::string(fact::RecordKindWords(record.kind)),
                        " is kept: put retention_rules into the settings");
  }
  if (!due.has_due_date()) return "nothing says from which day to count: no order names it";
  return absl::StrCat("kept until ", time::FormatDay(time::ToDay(due.due_date()) - 1), " by ",
                      due.rule().source());
}

}  // namespace

OrderDays DaysOf(const v1::SubjectState& state, absl::TimeZone zone) {
  const v1::OrderState& order = state.order();
  OrderDays days;
  days.name = state.name();
  days.patient = order.details().patient();
  days.last = time::LocalDay(time::ToMicros(state.last().happened_time()), zone);
  days.delivered = DayIf(order.has_handed_over_date(), order.handed_over_date());
  for (const v1::BilledDays& billed : order.billed()) {
    TakeLater(DayIf(true, billed.through_date()), &days.billed);
  }
  bool out = false;
  for (const v1::RentalLeg& leg : order.legs()) {
    out = out || !leg.has_to();
    TakeLater(DayIf(leg.has_to_date(), leg.to_date()), &days.ended);
  }
  const bool over =
      order.status() == v1::ORDER_STATUS_CLOSED || order.status() == v1::ORDER_STATUS_CANCELLED;
  days.running = out || !over;
  if (order.has_cancelled()) {
    TakeLater(time::LocalDay(time::ToMicros(order.cancelled().time()), zone), &days.ended);
  }
  if (days.running) days.ended = std::nullopt;
  for (const v1::RecordsHold& hold : order.records_holds()) {
    if (!hold.has_released()) days.standing.push_back(hold);
  }
  return days;
}

absl::CivilDay FirstFreeDay(absl::CivilDay anchor, int months) {
  const absl::CivilMonth month = absl::CivilMonth(anchor) + months;
  const absl::CivilDay last_of_month = absl::CivilDay(month + 1) - 1;
  const int day = std::min(anchor.day(), last_of_month.day());
  return absl::CivilDay(month.year(), month.month(), day) + 1;
}

v1::RecordDue Assess(const KeptRecord& record, const v1::Settings& settings, absl::CivilDay on) {
  v1::RecordDue due;
  due.set_kind(record.kind);
  due.set_resource(record.resource);
  bool running = record.open;
  for (const OrderDays* order : record.orders) {
    running = running || order->running;
    for (const v1::RecordsHold& hold : order->standing) *due.add_holds() = hold;
  }
  bool ruled = false;
  std::vector<Keeper> keepers;
  for (const v1::RetentionRule& rule : settings.retention_rules()) {
    if (rule.kind() != record.kind) continue;
    ruled = true;
    if (!running) Collect(rule, record, &keepers);
  }
  std::stable_sort(keepers.begin(), keepers.end(),
                   [](const Keeper& a, const Keeper& b) { return a.free > b.free; });
  NameOrders(record, keepers, &due);
  if (!keepers.empty()) {
    *due.mutable_rule() = *keepers.front().rule;
    *due.mutable_anchor_date() = time::FromDay(keepers.front().anchor);
    *due.mutable_due_date() = time::FromDay(keepers.front().free);
  }
  due.set_due(!keepers.empty() && keepers.front().free <= on && due.holds().empty());
  if (!due.due()) due.set_kept_because(WhyKept(record, due, ruled));
  return due;
}

}  // namespace ferrule::trace
