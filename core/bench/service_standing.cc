#include "core/bench/service_standing.h"

#include <algorithm>
#include <string>
#include <tuple>

#include "core/time/civil.h"
#include "core/unit/ready.h"
#include "core/unit/service_due.h"

namespace ferrule::bench {
namespace {

constexpr int64_t kSecondsPerHour = 3'600;

struct Projection {
  std::string basis;
  absl::CivilDay last;  // the last day on which it is not yet overdue
};

// The first day after which an interval is exceeded, as far as it can be told.
std::optional<Projection> Project(const v1::UnitState& unit, const v1::ServicePlan& plan,
                                  const ServiceOutlook& outlook) {
  const absl::CivilDay today = time::LocalDay(outlook.now_us, outlook.zone);
  std::optional<Projection> first;
  const auto take = [&first](const char* basis, absl::CivilDay last) {
    if (!first || last < first->last) first = Projection{basis, last};
  };
  if (plan.interval_days() > 0) {
    const v1::Stamp& from = unit.has_serviced() ? unit.serviced() : unit.received();
    take("days", time::LocalDay(time::ToMicros(from.time()), outlook.zone) + plan.interval_days());
  }
  if (plan.interval_hours() > 0) {
    const int64_t run_s = unit::TrueRunSeconds(unit.meter()) - unit.serviced_run_s();
    const int64_t left_s = plan.interval_hours() * kSecondsPerHour - run_s;
    if (left_s < 0) {
      take("hours", today - 1);
    } else if (outlook.daily_use_s > 0 && unit.custody() == v1::CUSTODY_HOME) {
      take("hours", today + left_s / outlook.daily_use_s);
    }
  }
  const int turns = unit.turn_count() - unit.serviced_turn_count();
  if (plan.interval_turns() > 0 && turns > plan.interval_turns()) take("turns", today - 1);
  return first;
}

// Whether the next rental would run into it: by its turn, or by its days and hours.
bool WithinNextRental(const v1::UnitState& unit, const v1::ServicePlan& plan,
                      const ServiceOutlook& outlook) {
  const absl::CivilDay today = time::LocalDay(outlook.now_us, outlook.zone);
  const int64_t days = outlook.next_rental_days;
  const unit::ServiceUse then{time::StartOfDayMicros(today + days + 1, outlook.zone) - 1,
                              days * outlook.daily_use_s, 1};
  return unit::DueService(unit, plan, outlook.zone, then).has_value();
}

}  // namespace

v1::ServiceRow StandingOf(const v1::UnitState& unit, const v1::ServicePlan& plan,
                          const ServiceOutlook& outlook) {
  v1::ServiceRow row;
  row.set_unit(unit.unit());
  row.set_model(unit.model());
  row.set_plan(plan.id());
  row.set_custody(unit.custody());
  row.set_place(unit.place());
  row.set_order(unit.order());
  row.set_run_since_s(unit::TrueRunSeconds(unit.meter()) - unit.serviced_run_s());
  row.set_turns_since_count(unit.turn_count() - unit.serviced_turn_count());
  row.set_daily_use_s(outlook.daily_use_s);
  const absl::CivilDay today = time::LocalDay(outlook.now_us, outlook.zone);
  bool deferred = false;
  if (unit.has_service_deferred() && unit.service_deferred().plan() == plan.id()) {
    const v1::Deferral& deferral = unit.service_deferred();
    *row.mutable_deferred_until_date() = deferral.until_date();
    row.set_deferred_by(deferral.authority());
    deferred = time::IsValid(deferral.until_date()) && today <= time::ToDay(deferral.until_date());
  }
  const std::optional<Projection> due = Project(unit, plan, outlook);
  if (due) {
    row.set_basis(due->basis);
    *row.mutable_due_date() = time::FromDay(due->last);
    row.set_overdue_days(static_cast<int32_t>(today - due->last));
  }
  if (due && today > due->last) {
    row.set_standing(deferred ? v1::SERVICE_STANDING_DEFERRED : v1::SERVICE_STANDING_OVERDUE);
  } else if (due && unit.custody() == v1::CUSTODY_HOME && outlook.rental_ends &&
             *outlook.rental_ends > due->last) {
    row.set_standing(v1::SERVICE_STANDING_DUE_IN_FIELD);
  } else if (unit.custody() != v1::CUSTODY_HOME && WithinNextRental(unit, plan, outlook)) {
    row.set_standing(v1::SERVICE_STANDING_DUE_IN_NEXT_RENTAL);
  } else if (due && due->last <= outlook.through) {
    row.set_standing(v1::SERVICE_STANDING_COMING);
  } else {
    row.set_standing(v1::SERVICE_STANDING_NOT_DUE);
  }
  return row;
}

bool MoreUrgent(const v1::ServiceRow& a, const v1::ServiceRow& b) {
  const auto key = [](const v1::ServiceRow& row) {
    return std::tuple(row.standing(), row.has_due_date() ? -row.overdue_days() : INT32_MAX,
                      std::string_view(row.unit()));
  };
  return key(a) < key(b);
}

}  // namespace ferrule::bench
