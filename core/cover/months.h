// Rental months: which month a day of use falls into, and when an interruption begins a new rental
// period.
#pragma once

#include <vector>

#include "absl/time/civil_time.h"
#include "ferrule/v1/cover.pb.h"

namespace ferrule::cover {

// The day on which month `k` (from 0) of a period begins, always counted from the period's first
// day: from 31 January month 1 begins on 28 or 29 February by the rule of the last day, on 1 March
// by the rule of the first of the next month, and month 2 on 31 March.
absl::CivilDay MonthBegin(absl::CivilDay first, int k, v1::MonthRule rule);

struct Month {
  int period = 1;  // from 1
  int number = 1;  // of the period's months in use, from 1
  absl::CivilDay from;
  absl::CivilDay end;  // not included
  std::vector<absl::CivilDay> used;
};

// The months in which the days of use fall; `used` is sorted, each day once. Use that resumes at
// most `interruption_days` after the last day of the rental month in which it ceased goes on in the
// same period: 42 CFR 414.230 allows 60 consecutive days plus the days left in the rental month,
// counted here from the last day of use, that day not counted, to the day on which use resumes.
// Use on the day after is no interruption at all. Months wholly without use are not listed.
std::vector<Month> MonthsOf(const std::vector<absl::CivilDay>& used, int interruption_days,
                            v1::MonthRule rule);

}  // namespace ferrule::cover
