#include "core/papers/ladder.h"

#include <algorithm>

#include "absl/strings/str_cat.h"
#include "core/fact/counted.h"
#include "core/time/civil.h"

namespace ferrule::papers {
namespace {

absl::CivilDay FailedOn(const v1::OrderState& order, absl::TimeZone zone) {
  return time::LocalDay(time::ToMicros(order.pickup_failed().time()), zone);
}

bool AgreedSince(const v1::OrderState& order) {
  return order.has_pickup_agreed() && time::ToMicros(order.pickup_agreed().time()) >
                                          time::ToMicros(order.pickup_failed().time());
}

}  // namespace

std::string FailedPickups(const v1::OrderState& order, absl::TimeZone zone) {
  if (!order.has_pickup_failed()) return "";
  const int failures = order.failed_pickup_count();
  const std::string& outcome = order.pickup_failed_outcome();
  return absl::StrCat(fact::Counted(failures, "pick-up failed", "pick-ups failed"), ", the last ",
                      time::FormatDay(FailedOn(order, zone)),
                      outcome.empty() ? "" : absl::StrCat(" (", outcome, ")"));
}

std::optional<NextStep> NextStepOf(const v1::OrderState& order, const v1::ContactPolicy& policy,
                                   absl::TimeZone zone) {
  if (!order.has_pickup_failed() || AgreedSince(order)) return std::nullopt;
  NextStep next{FailedOn(order, zone), FailedPickups(order, zone), std::nullopt};
  if (policy.ladder().empty()) {
    next.text += "; the settings say no next step (contact_policy.ladder)";
    return next;
  }
  const int rung = std::clamp(order.failed_pickup_count(), 1, policy.ladder_size());
  const v1::LadderStep& step = policy.ladder(rung - 1);
  next.by = next.failed + step.within_days();
  absl::StrAppend(&next.text, "; next: ", step.action(), ", by ", time::FormatDay(*next.by));
  return next;
}

}  // namespace ferrule::papers
