// When planned service falls due: by days, run hours or rentals, whichever comes first.
#pragma once

#include <cstdint>
#include <optional>
#include <string>

#include "absl/time/time.h"
#include "ferrule/v1/settings.pb.h"
#include "ferrule/v1/states.pb.h"

namespace ferrule::unit {

// The use up to the instant that is asked about, beyond what the unit's state has.
struct ServiceUse {
  int64_t at_us = 0;
  int64_t more_run_s = 0;
  int more_turns = 0;  // 1 counts the rental about to begin: the last allowed one may still go out
};

// What made the service due.
struct ServiceDue {
  std::string basis;  // "days", "hours" or "turns"
  std::string limit;  // the interval
  std::string found;  // how much has been used
  std::string due;    // "2026-11-25" when the basis is days
};

// The first interval that is exceeded, if any; an interval exactly used up is not. Counted from the
// last service, or from the unit's arrival when there was none.
std::optional<ServiceDue> DueService(const v1::UnitState& unit, const v1::ServicePlan& plan,
                                     absl::TimeZone zone, const ServiceUse& use);

}  // namespace ferrule::unit
