#include "core/unit/service_due.h"

#include "core/time/civil.h"
#include "core/unit/ready.h"

namespace ferrule::unit {
namespace {

constexpr int64_t kSecondsPerHour = 3'600;

}  // namespace

std::optional<ServiceDue> DueService(const v1::UnitState& unit, const v1::ServicePlan& plan,
                                     absl::TimeZone zone, const ServiceUse& use) {
  if (plan.interval_days() > 0) {
    const v1::Stamp& from = unit.has_serviced() ? unit.serviced() : unit.received();
    const absl::CivilDay due =
        time::LocalDay(time::ToMicros(from.time()), zone) + plan.interval_days();
    const absl::CivilDay day = time::LocalDay(use.at_us, zone);
    if (day > due) {
      return ServiceDue{"days", std::to_string(plan.interval_days()),
                        std::to_string(day - due + plan.interval_days()), time::FormatDay(due)};
    }
  }
  const int64_t run_s = TrueRunSeconds(unit.meter()) - unit.serviced_run_s() + use.more_run_s;
  if (plan.interval_hours() > 0 && run_s > plan.interval_hours() * kSecondsPerHour) {
    return ServiceDue{"hours", std::to_string(plan.interval_hours()),
                      std::to_string(run_s / kSecondsPerHour), ""};
  }
  const int turns = unit.turn_count() - unit.serviced_turn_count() + use.more_turns;
  if (plan.interval_turns() > 0 && turns > plan.interval_turns()) {
    return ServiceDue{"turns", std::to_string(plan.interval_turns()), std::to_string(turns), ""};
  }
  return std::nullopt;
}

}  // namespace ferrule::unit
