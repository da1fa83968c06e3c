#include "core/time/holidays.h"

#include <algorithm>

namespace ferrule::time {
namespace {

absl::CivilDay Nth(int year, int month, absl::Weekday weekday, int n) {
  const absl::CivilDay before = absl::CivilDay(year, month, 1) - 1;
  return absl::NextWeekday(before, weekday) + 7 * (n - 1);
}

absl::CivilDay LastMondayOfMay(int year) {
  return absl::PrevWeekday(absl::CivilDay(year, 6, 1), absl::Weekday::monday);
}

absl::CivilDay Kept(absl::CivilDay day) {
  switch (absl::GetWeekday(day)) {
    case absl::Weekday::saturday:
      return day - 1;
    case absl::Weekday::sunday:
      return day + 1;
    default:
      return day;
  }
}

void AddYear(int year, std::vector<FederalHoliday>* out) {
  constexpr auto kMonday = absl::Weekday::monday;
  const FederalHoliday all[] = {
      {Kept(absl::CivilDay(year, 1, 1)), "New Year's Day"},
      {Nth(year, 1, kMonday, 3), "Birthday of Martin Luther King, Jr."},
      {Nth(year, 2, kMonday, 3), "Washington's Birthday"},
      {LastMondayOfMay(year), "Memorial Day"},
      {Kept(absl::CivilDay(year, 6, 19)), "Juneteenth National Independence Day"},
      {Kept(absl::CivilDay(year, 7, 4)), "Independence Day"},
      {Nth(year, 9, kMonday, 1), "Labor Day"},
      {Nth(year, 10, kMonday, 2), "Columbus Day"},
      {Kept(absl::CivilDay(year, 11, 11)), "Veterans Day"},
      {Nth(year, 11, absl::Weekday::thursday, 4), "Thanksgiving Day"},
      {Kept(absl::CivilDay(year, 12, 25)), "Christmas Day"},
  };
  out->insert(out->end(), std::begin(all), std::end(all));
}

}  // namespace

std::vector<FederalHoliday> FederalHolidays(int year) {
  std::vector<FederalHoliday> holidays;
  AddYear(year, &holidays);
  AddYear(year + 1, &holidays);
  holidays.erase(std::remove_if(holidays.begin(), holidays.end(),
                                [year](const FederalHoliday& h) { return h.day.year() != year; }),
                 holidays.end());
  return holidays;
}

}  // namespace ferrule::time
