// Where units stand with their planned service, projected from their own use.
#pragma once

#include <cstdint>
#include <optional>

#include "absl/time/time.h"
#include "ferrule/v1/bench_service.pb.h"
#include "ferrule/v1/settings.pb.h"
#include "ferrule/v1/states.pb.h"

namespace ferrule::bench {

// What is known beside the unit's own state.
struct ServiceOutlook {
  int64_t now_us = 0;
  absl::TimeZone zone;
  int64_t daily_use_s = 0;                    // run time a day on rent
  std::optional<absl::CivilDay> rental_ends;  // last day of the present rental, where known
  int next_rental_days = 0;                   // how long the next one usually lasts
  absl::CivilDay through;                     // looks ahead to this day
};

// The row of a unit under a plan. Whichever interval is used up first counts: the day on which its
// days are over; the day on which its hours are, with its own use on each day on rent; the present
// turn for the turns. An interval exactly used up is not yet over.
v1::ServiceRow StandingOf(const v1::UnitState& unit, const v1::ServicePlan& plan,
                          const ServiceOutlook& outlook);

// The most urgent first: by standing, then the longest overdue.
bool MoreUrgent(const v1::ServiceRow& a, const v1::ServiceRow& b);

}  // namespace ferrule::bench
