#include "core/order/terms.h"

#include <algorithm>

#include "core/order/stays.h"
#include "core/time/civil.h"

namespace ferrule::order {
namespace {

constexpr int64_t kHourUs = 3'600'000'000;

template <typename List>
bool Fits(const List& list, const std::string& one, const std::string& other) {
  if (list.empty()) return true;
  return std::any_of(list.begin(), list.end(), [&](const std::string& item) {
    return (!one.empty() && item == one) || (!other.empty() && item == other);
  });
}

bool IsWorkingDay(absl::CivilDay day, const depot::Rules& rules) {
  const absl::Weekday weekday = absl::GetWeekday(day);
  if (weekday == absl::Weekday::saturday || weekday == absl::Weekday::sunday) return false;
  const auto& holidays = rules.settings().holidays();
  return std::none_of(holidays.begin(), holidays.end(), [&](const v1::Holiday& h) {
    return time::IsValid(h.date()) && time::ToDay(h.date()) == day;
  });
}

// Working days after the first day, up to and with the last one.
int WorkingDaysBetween(absl::CivilDay first, absl::CivilDay last, const depot::Rules& rules) {
  int count = 0;
  for (absl::CivilDay day = first + 1; day <= last; ++day) count += IsWorkingDay(day, rules);
  return count;
}

// Only the operation and the first use have instants of their own.
std::optional<int64_t> AnchorInstant(const v1::OrderState& order, v1::CoverAnchor anchor) {
  switch (anchor) {
    case v1::COVER_ANCHOR_SURGERY:
      if (!order.details().has_surgery_time()) return std::nullopt;
      return time::ToMicros(order.details().surgery_time());
    case v1::COVER_ANCHOR_DISCHARGE:
      if (const v1::PatientStay* note = DischargeNote(order)) {
        return time::ToMicros(note->noted().time());
      }
      return std::nullopt;
    case v1::COVER_ANCHOR_FIRST_USE:
      if (const v1::UsePoint* first = FirstUse(order)) return time::ToMicros(first->noted().time());
      return std::nullopt;
    case v1::COVER_ANCHOR_HAND_OVER:
      if (!order.has_handed_over()) return std::nullopt;
      return time::ToMicros(order.handed_over().time());
    default:
      return std::nullopt;
  }
}

Start Within(int64_t taken, int64_t most) {
  return taken <= most ? Start::kInTime : Start::kTooLate;
}

}  // namespace

std::string_view PayerOn(const v1::OrderState& order, absl::CivilDay day) {
  if (order.payers().empty()) return order.details().payer();
  std::string_view payer;
  for (const v1::PayerPeriod& period : order.payers()) {
    const bool begun = !time::IsValid(period.from_date()) || time::ToDay(period.from_date()) <= day;
    if (begun) payer = period.payer();
  }
  return payer;
}

std::string_view FirstPayer(const v1::OrderState& order) {
  if (time::IsValid(order.handed_over_date())) {
    return PayerOn(order, time::ToDay(order.handed_over_date()));
  }
  return order.payers().empty() ? std::string_view(order.details().payer())
                                : std::string_view(order.payers(0).payer());
}

const v1::CoverRule* FindCoverRule(const v1::OrderState& order, std::string_view payer,
                                   const depot::Rules& rules) {
  const v1::PayerTerms* terms = rules.FindPayer(payer);
  if (terms == nullptr) return nullptr;
  const v1::OrderDetails& details = order.details();
  for (const v1::CoverRule& rule : terms->rules()) {
    if (Fits(rule.device_classes(), details.device_class(), "") &&
        Fits(rule.procedures(), details.procedure_code(), details.procedure())) {
      return &rule;
    }
  }
  return nullptr;
}

std::optional<absl::CivilDay> CoverThrough(const v1::OrderState& order, const v1::CoverRule& rule,
                                           const v1::CoverReading& reading) {
  const std::optional<absl::CivilDay> anchor = AnchorDay(order, reading.anchor());
  if (!anchor || reading.length_days() == 0) return std::nullopt;
  absl::CivilDay last = *anchor + reading.length_days() - reading.anchor_day_number();
  if (rule.away_days() != v1::AWAY_DAYS_STOP_THE_COUNT || order.stays().empty()) return last;
  const absl::CivilDay noted = time::ToDay(order.stays(order.stays_size() - 1).from_date());
  for (absl::CivilDay day = *anchor; day <= last; ++day) {
    const Where where = WhereOn(order, day, rule.admission_day_paid());
    if (where != Where::kHospital && where != Where::kFacility) continue;
    if (day > noted) return std::nullopt;  // away until somebody says otherwise
    ++last;
  }
  return last;
}

std::optional<absl::CivilDay> CoverEnd(const v1::OrderState& order, const depot::Rules& rules) {
  const v1::OrderDetails& details = order.details();
  if (details.has_cover_end_date() && time::IsValid(details.cover_end_date())) {
    return time::ToDay(details.cover_end_date());
  }
  const v1::CoverRule* rule = FindCoverRule(order, FirstPayer(order), rules);
  if (rule == nullptr || rule->not_covered() || rule->readings().empty()) return std::nullopt;
  return CoverThrough(order, *rule, rule->readings(0));
}

Start StartOf(const v1::OrderState& order, const v1::CoverReading& reading,
              const depot::Rules& rules) {
  if (!reading.has_start()) return Start::kInTime;
  const v1::StartWindow& window = reading.start();
  const v1::UsePoint* first = FirstUse(order);
  if (first == nullptr) return Start::kUnknown;
  if (window.measure() == v1::WINDOW_MEASURE_HOURS) {
    const std::optional<int64_t> from_us = AnchorInstant(order, window.anchor());
    if (!from_us) return Start::kUnknown;
    return Within(time::ToMicros(first->noted().time()) - *from_us, window.most() * kHourUs);
  }
  const std::optional<absl::CivilDay> from = AnchorDay(order, window.anchor());
  if (!from) return Start::kUnknown;
  const absl::CivilDay used = time::ToDay(first->date());
  if (window.measure() == v1::WINDOW_MEASURE_WORKING_DAYS) {
    return Within(WorkingDaysBetween(*from, used, rules), window.most());
  }
  return Within(used - *from, window.most());
}

}  // namespace ferrule::order
