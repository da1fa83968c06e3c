#include "core/board/rentals_seen.h"

#include <algorithm>
#include <iterator>
#include <set>
#include <utility>

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

// Keeps what was noted by that day.
template <class Noted>
void KeepUntil(int64_t day, absl::TimeZone zone, google::protobuf::RepeatedPtrField<Noted>* all) {
  all->erase(std::remove_if(all->begin(), all->end(),
                            [&](const Noted& noted) { return DayOf(noted.noted(), zone) > day; }),
             all->end());
}

// The order as it stood at the end of that day, as far as its due day goes.
v1::OrderState AsOf(const v1::OrderState& order, int64_t day, absl::TimeZone zone,
                    const std::vector<SaidEnds>& said) {
  v1::OrderState then = order;
  const auto later =
      std::find_if(said.begin(), said.end(), [&](const SaidEnds& ends) { return ends.day > day; });
  if (later != said.begin()) {
    const SaidEnds& ends = *std::prev(later);
    v1::OrderDetails& details = *then.mutable_details();
    details.clear_authorisation_end_date();
    details.clear_cover_end_date();
    if (ends.authorisation_end) {
      *details.mutable_authorisation_end_date() = *ends.authorisation_end;
    }
    if (ends.cover_end) *details.mutable_cover_end_date() = *ends.cover_end;
  }
  KeepUntil(day, zone, then.mutable_papers());
  KeepUntil(day, zone, then.mutable_authorisations());
  if (order.has_pickup_agreed() && DayOf(order.pickup_agreed(), zone) > day) {
    then.clear_pickup_agreed();
    then.clear_pickup_date();
  }
  return then;
}

// Days from which on the due day may have been another.
std::set<int64_t> Changes(const v1::OrderState& order, int64_t start, absl::TimeZone zone,
                          const std::vector<SaidEnds>& said) {
  std::set<int64_t> days = {start};
  for (const SaidEnds& ends : said) days.insert(ends.day);
  for (const v1::OrderPaper& paper : order.papers()) days.insert(DayOf(paper.noted(), zone));
  for (const v1::Authorisation& a : order.authorisations()) days.insert(DayOf(a.noted(), zone));
  if (order.has_pickup_agreed()) days.insert(DayOf(order.pickup_agreed(), zone));
  days.erase(days.begin(), days.lower_bound(start));
  return days;
}

}  // namespace

bool NeedsSaidEnds(const v1::OrderState& order) {
  return order.has_extended() &&
         (order.details().has_authorisation_end_date() || order.details().has_cover_end_date());
}

std::vector<SaidEnds> SaidEndsOf(const std::vector<fact::FactView>& facts, absl::TimeZone zone) {
  std::vector<const fact::FactView*> told;
  for (const fact::FactView& view : facts) {
    if (view.fact().has_order_taken() || view.fact().has_order_changed()) told.push_back(&view);
  }
  std::stable_sort(told.begin(), told.end(),
                   [](const auto* a, const auto* b) { return a->happened_us < b->happened_us; });
  std::vector<SaidEnds> said;
  for (const fact::FactView* view : told) {
    const v1::OrderDetails& details = view->fact().has_order_taken()
                                          ? view->fact().order_taken().details()
                                          : view->fact().order_changed().details();
    SaidEnds ends = said.empty() ? SaidEnds() : said.back();
    ends.day = time::DayNumber(time::LocalDay(view->happened_us, zone));
    if (details.has_authorisation_end_date()) {
      ends.authorisation_end = details.authorisation_end_date();
    }
    if (details.has_cover_end_date()) ends.cover_end = details.cover_end_date();
    said.push_back(std::move(ends));
  }
  return said;
}

std::optional<promise::RentalSeen> RentalOf(const v1::OrderState& order,
                                            const depot::SettingsBook& book,
                                            const std::vector<SaidEnds>& said) {
  if (!order.has_handed_over() || !time::IsValid(order.handed_over_date())) return std::nullopt;
  const absl::TimeZone zone =
      book.At(time::ToMicros(order.handed_over().time())).ZoneOf(order.details().branch());
  promise::RentalSeen rental;
  rental.start = Number(order.handed_over_date());
  for (int64_t day : Changes(order, rental.start, zone, said)) {
    const Lateness then = LatenessOf(AsOf(order, day, zone, said), book, day);
    if (!then.due) continue;
    const bool same = !rental.dues.empty() && rental.dues.back().due == *then.due &&
                      rental.dues.back().agreed == then.agreed;
    if (!same) rental.dues.push_back({day, *then.due, then.agreed});
  }
  if (rental.dues.empty()) return std::nullopt;
  rental.returned = ReturnedOn(order, zone);
  return rental;
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
