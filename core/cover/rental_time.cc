#include "core/cover/rental_time.h"

#include <algorithm>
#include <optional>

#include "core/time/civil.h"

namespace ferrule::cover {
namespace {

struct Leg {
  const std::string* unit;
  int64_t from_us;
  int64_t to_us;
  absl::CivilDay first;
  absl::CivilDay last;
};

// The days as the fold found them by the zone of their time: a branch that changed since then
// changes no day that is over.
std::vector<Leg> LegsOf(const v1::OrderState& order, absl::TimeZone zone, const Until& until) {
  std::vector<Leg> legs;
  for (const v1::RentalLeg& leg : order.legs()) {
    const int64_t from_us = time::ToMicros(leg.from().time());
    const bool over = leg.has_to();
    const int64_t to_us = std::max(from_us, over ? time::ToMicros(leg.to().time()) : until.us);
    const absl::CivilDay first = time::IsValid(leg.from_date()) ? time::ToDay(leg.from_date())
                                                                : time::LocalDay(from_us, zone);
    absl::CivilDay last = until.day;
    if (over) {
      last =
          time::IsValid(leg.to_date()) ? time::ToDay(leg.to_date()) : time::LocalDay(to_us, zone);
      if (last > first && time::StartOfDayMicros(last, zone) == to_us) --last;
    }
    if (last < first) continue;
    legs.push_back({&leg.unit(), from_us, to_us, first, last});
  }
  return legs;
}

// The time of [from, to) that the legs cover, each instant once. Legs are few.
int64_t Covered(std::vector<Leg> legs, int64_t from_us, int64_t to_us) {
  std::sort(legs.begin(), legs.end(),
            [](const Leg& a, const Leg& b) { return a.from_us < b.from_us; });
  int64_t covered = 0;
  int64_t reached = from_us;
  for (const Leg& leg : legs) {
    const int64_t begin = std::max(leg.from_us, reached);
    const int64_t end = std::min(leg.to_us, to_us);
    if (end <= begin) continue;
    covered += end - begin;
    reached = end;
  }
  return covered;
}

}  // namespace

std::vector<TouchedDay> TouchedDays(const v1::OrderState& order, absl::TimeZone zone,
                                    const Until& until) {
  std::vector<TouchedDay> days;
  const std::vector<Leg> legs = LegsOf(order, zone, until);
  if (legs.empty()) return days;
  absl::CivilDay first = legs.front().first;
  absl::CivilDay last = legs.front().last;
  for (const Leg& leg : legs) {
    first = std::min(first, leg.first);
    last = std::max(last, leg.last);
  }
  int64_t begin_us = time::StartOfDayMicros(first, zone);
  for (absl::CivilDay day = first; day <= last; ++day) {
    const int64_t end_us = time::StartOfDayMicros(day + 1, zone);
    TouchedDay touched{day, {}, 0, end_us - begin_us};
    for (const Leg& leg : legs) {
      if (leg.first <= day && day <= leg.last) touched.units.push_back(*leg.unit);
    }
    // A day of no length is one that the calendar of the place leaves out.
    if (!touched.units.empty() && touched.length_us > 0) {
      touched.custody_us = Covered(legs, begin_us, end_us);
      days.push_back(std::move(touched));
    }
    begin_us = end_us;
  }
  return days;
}

}  // namespace ferrule::cover
