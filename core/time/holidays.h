// The federal holidays of the United States, for a depot's list of days off.
#pragma once

#include <string_view>
#include <vector>

#include "absl/time/civil_time.h"

namespace ferrule::time {

struct FederalHoliday {
  absl::CivilDay day;  // on which it is kept
  std::string_view name;
};

// The days on which the holidays of 5 U.S.C. 6103(a) are kept in a civil year, in order. One on a
// Saturday is kept on the Friday before (6103(b)), one on a Sunday on the Monday after (E.O. 11582
// section 3(a)), so New Year's Day may be kept in the year before. For years from 2021, when the
// last of them was added.
std::vector<FederalHoliday> FederalHolidays(int year);

}  // namespace ferrule::time
