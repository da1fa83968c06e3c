#include "core/cover/changes.h"

#include <map>

#include "core/time/civil.h"

namespace ferrule::cover {
namespace {

bool Within(const google::type::Date& date, absl::CivilDay from, absl::CivilDay through) {
  const absl::CivilDay day = time::ToDay(date);
  return from <= day && day <= through;
}

}  // namespace

int UnitsWithin(const v1::DayLedger& ledger, absl::CivilDay from, absl::CivilDay through) {
  int units = 0;
  if (ledger.billing_unit() == v1::BILLING_UNIT_MONTH) {
    for (const v1::RentalMonth& month : ledger.months()) {
      units += month.covered() && Within(month.from_date(), from, through);
    }
    return units;
  }
  for (const v1::LedgerDay& day : ledger.days()) {
    units += day.state() == v1::DAY_STATE_COVERED && Within(day.date(), from, through);
  }
  return units;
}

std::vector<v1::CorrectedDay> ChangedDays(const v1::DayLedger& then, const v1::DayLedger& now,
                                          absl::CivilDay from, absl::CivilDay through) {
  std::map<absl::CivilDay, v1::CorrectedDay> days;
  for (const v1::LedgerDay& day : then.days()) {
    if (!Within(day.date(), from, through)) continue;
    v1::CorrectedDay& out = days[time::ToDay(day.date())];
    out.set_state_then(day.state());
    out.set_reason_then(day.reason());
  }
  for (const v1::LedgerDay& day : now.days()) {
    if (!Within(day.date(), from, through)) continue;
    v1::CorrectedDay& out = days[time::ToDay(day.date())];
    out.set_state_now(day.state());
    out.set_reason_now(day.reason());
  }
  std::vector<v1::CorrectedDay> changed;
  for (auto& [date, day] : days) {
    if (day.state_then() == day.state_now() && day.reason_then() == day.reason_now()) continue;
    *day.mutable_date() = time::FromDay(date);
    changed.push_back(std::move(day));
  }
  return changed;
}

}  // namespace ferrule::cover
