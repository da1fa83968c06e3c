// Dates as labels write them.
#pragma once

#include <optional>
#include <string_view>

#include "absl/time/civil_time.h"

namespace ferrule::label {

// The year that two digits mean in a given year: 51 or more ahead is the century before, 50 or more
// behind the century after (GS1 syntax dictionary, lint_yymmd0.c).
int FullYear(int two_digits, int current_year);

// A day as a label gives it.
struct LabelDate {
  absl::CivilDay day;
  bool whole_month = false;  // the day was 00: `day` is the last one of the month
};

// "YYMMDD". Nothing when there is no such day; day 00 only where `may_lack_day`.
std::optional<LabelDate> ReadYymmdd(std::string_view text, int current_year, bool may_lack_day);

// Six digits in another order, all within the same rules: nothing when there is no such day.
std::optional<absl::CivilDay> DayOf(int year, int month, int day);

// The day of the year, 1 to 366.
std::optional<absl::CivilDay> DayOfYear(int year, int ordinal);

}  // namespace ferrule::label
