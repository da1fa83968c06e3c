#include "core/board/rentals_seen.h"

#include <algorithm>

#include "core/order/due.h"
#include "core/time/civil.h"

namespace ferrule::board {
namespace {

int64_t DayOf(const v1::Stamp& stamp, absl::TimeZone zone) {
  return time::DayNumber(time::LocalDay(time::ToMicros(stamp.time()), zone));
}

int64_t Number(const google::type::Date& date) { return time::DayNumber(time::ToDay(date)); }

// The last leg's end, when every leg has one.
std::optional<int64_t> ReturnedOn(const v1::OrderState& order, absl::TimeZone zone) {
  if (order.status() != v1::ORDER_STATUS_CLOSED || order.legs().empty()) return std::nullopt;
  std::optional<int64_t> last;
  for (const v1::RentalLeg& leg : order.legs()) {
    if (!leg.has_to()) return std::nullopt;
    last = std::max(last.value_or(INT64_MIN), DayOf(leg.to(), zone));
  }
  return last;
}

}  // namespace

std::optional<promise::RentalSeen> RentalOf(const v1::OrderState& order,
                                            const depot::SettingsBook& book) {
  if (!order.has_handed_over() || !time::IsValid(order.handed_over_date())) return std::nullopt;
  const absl::TimeZone zone =
      book.At(time::ToMicros(order.handed_over().time())).ZoneOf(order.details().branch());
  promise::RentalSeen rental;
  rental.start = Number(order.handed_over_date());
  if (order.details().length_of_need_days() > 0) {
    rental.dues.push_back(
        {rental.start, rental.start + order.details().length_of_need_days() - 1, false});
  }
  if (order.has_extended() && time::IsValid(order.extended_through_date())) {
    rental.dues.push_back(
        {DayOf(order.extended(), zone), Number(order.extended_through_date()), false});
  }
  if (order.has_pickup_agreed() && time::IsValid(order.pickup_date())) {
    rental.dues.push_back({DayOf(order.pickup_agreed(), zone), Number(order.pickup_date()), true});
  }
  if (rental.dues.empty()) return std::nullopt;
  std::stable_sort(rental.dues.begin(), rental.dues.end(),
                   [](const auto& a, const auto& b) { return a.known_from < b.known_from; });
  rental.returned = ReturnedOn(order, zone);
  return rental;
}

std::optional<promise::TurnSeen> TurnOf(const v1::UnitState& unit, const depot::Rules& rules) {
  // A new unit "returns" with its arrival; its first check tells nothing about a turnaround.
  if (!unit.has_returned() || unit.turn_count() == 0) return std::nullopt;
  const v1::Branch* branch = rules.BranchOfPlace(unit.place());
  const absl::TimeZone zone = branch == nullptr ? absl::UTCTimeZone() : rules.ZoneOf(branch->id());
  promise::TurnSeen turn;
  turn.returned = DayOf(unit.returned(), zone);
  const v1::Inspection& inspection = unit.inspection();
  const bool passed =
      unit.has_inspection() && inspection.passed() &&
      time::ToMicros(inspection.done().time()) >= time::ToMicros(unit.returned().time());
  if (passed && unit.condition() == v1::CONDITION_PASSED)
    turn.ready = DayOf(inspection.done(), zone);
  return turn;
}

Lateness LatenessOf(const v1::OrderState& order, const depot::SettingsBook& book, int64_t today) {
  Lateness lateness;
  if (const std::optional<v1::RentalEnd> due = order::Due(order, book)) {
    lateness.due = Number(due->date());
    lateness.agreed = due->basis() == v1::DUE_BASIS_AGREED_PICKUP;
  } else if (const std::optional<absl::CivilDay> end = order::PrescriptionEnd(order)) {
    lateness.due = time::DayNumber(*end);
  }
  lateness.late = today - lateness.due.value_or(today);
  return lateness;
}

}  // namespace ferrule::board
