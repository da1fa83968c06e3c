// Week dates and durations of ISO 8601, as other systems and calendars write them.
#pragma once

#include <cstdint>
#include <string>
#include <string_view>

#include "absl/status/statusor.h"
#include "absl/time/civil_time.h"

namespace ferrule::time {

// A day by its week: weeks begin on Monday, and week 1 is the one with the year's first Thursday,
// so the first days of January may belong to the year before and the last of December to the next
// one.
struct WeekDate {
  int64_t year = 0;
  int week = 0;     // 1 to 53
  int weekday = 0;  // 1 is Monday, 7 is Sunday
};

WeekDate ToWeekDate(absl::CivilDay day);
// Weeks of a year by their numbers, 52 or 53.
int WeeksInYear(int64_t year);
// "2026-W53-4".
std::string FormatWeekDate(absl::CivilDay day);
// InvalidArgument when it is none, or the year has no such week.
absl::StatusOr<absl::CivilDay> ParseWeekDate(std::string_view text);

// Months have no fixed number of days and days no fixed number of hours, so the parts stay apart.
struct Duration {
  int months = 0;  // years are 12
  int days = 0;    // weeks are 7
  int64_t seconds = 0;
};

// PnYnMnDTnHnMnS or PnW with whole numbers, "P21D", "P3W", "PT4H30M"; InvalidArgument otherwise,
// also for "P" and "PT" alone.
absl::StatusOr<Duration> ParseDuration(std::string_view text);

}  // namespace ferrule::time
