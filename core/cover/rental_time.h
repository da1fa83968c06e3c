// The time that a rental's units were in the home, cut into the civil days of its branch.
#pragma once

#include <cstdint>
#include <string>
#include <vector>

#include "absl/time/civil_time.h"
#include "absl/time/time.h"
#include "ferrule/v1/states.pb.h"

namespace ferrule::cover {

// Until when a rental that is still out is counted.
struct Until {
  absl::CivilDay day;
  int64_t us = 0;
};

struct TouchedDay {
  absl::CivilDay day;
  std::vector<std::string>
      units;               // in the home at some time of the day, in the order of their legs
  int64_t custody_us = 0;  // of the day, each instant once however many units were there
  int64_t length_us = 0;   // of the day: 24 hours but where clocks change
};

// Every civil day on which a unit was in the home, in order. A leg that ends at midnight does not
// touch the day that begins then, unless it began there, too.
std::vector<TouchedDay> TouchedDays(const v1::OrderState& order, absl::TimeZone zone,
                                    const Until& until);

}  // namespace ferrule::cover
