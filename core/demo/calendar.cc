#include "core/demo/calendar.h"

#include <algorithm>
#include <map>
#include <string>

#include "core/time/civil.h"

namespace ferrule::demo {

Calendar::Calendar(absl::CivilDay first_day, int days, const std::vector<absl::TimeZone>& zones)
    : first_day_(first_day),
      days_(days),
      first_weekday_(static_cast<int>(absl::GetWeekday(first_day))) {
  std::map<std::string, int> zone_numbers;
  for (const absl::TimeZone& zone : zones) {
    const auto [it, added] =
        zone_numbers.emplace(zone.name(), static_cast<int>(zone_numbers.size()));
    zone_of_branch_.push_back(it->second);
    if (!added) continue;
    std::vector<int64_t>& midnights = midnights_.emplace_back();
    midnights.reserve(static_cast<size_t>(days) + 1);
    for (int day = 0; day <= days; ++day) {
      midnights.push_back(time::StartOfDayMicros(first_day + day, zone));
    }
  }
  for (int day = 0; day <= days; ++day) {
    months_.push_back(static_cast<int8_t>((first_day + day).month()));
  }
}

int Calendar::Month(int day) const {
  return months_[static_cast<size_t>(std::clamp(day, 0, days_))];
}

int Calendar::WorkingFrom(int day) const {
  while (!IsWorking(day)) ++day;
  return day;
}

int Calendar::AddWorking(int day, int count) const {
  day = WorkingFrom(day);
  for (; count > 0; --count) day = WorkingFrom(day + 1);
  return day;
}

int64_t Calendar::At(int branch, int day, int64_t minute) const {
  if (day > days_ || day < 0) return kNever;
  const auto& midnights =
      midnights_[static_cast<size_t>(zone_of_branch_[static_cast<size_t>(branch)])];
  return midnights[static_cast<size_t>(day)] + minute * kMinute;
}

int Calendar::DayOf(int branch, int64_t us) const {
  const auto& midnights =
      midnights_[static_cast<size_t>(zone_of_branch_[static_cast<size_t>(branch)])];
  int day = static_cast<int>((us - midnights[0]) / (24 * kHour));
  day = std::clamp(day, 0, days_);
  while (day > 0 && midnights[static_cast<size_t>(day)] > us) --day;
  while (day < days_ && midnights[static_cast<size_t>(day) + 1] <= us) ++day;
  return day;
}

int64_t Calendar::MinuteOf(int branch, int64_t us) const {
  const auto& midnights =
      midnights_[static_cast<size_t>(zone_of_branch_[static_cast<size_t>(branch)])];
  return (us - midnights[static_cast<size_t>(DayOf(branch, us))]) / kMinute;
}

}  // namespace ferrule::demo
