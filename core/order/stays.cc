#include "core/order/stays.h"

#include "core/time/civil.h"

namespace ferrule::order {
namespace {

std::optional<absl::CivilDay> DayOf(bool known, const google::type::Date& date) {
  if (!known || !time::IsValid(date)) return std::nullopt;
  return time::ToDay(date);
}

std::optional<absl::CivilDay> PlannedDischarge(const v1::OrderState& order) {
  return DayOf(order.details().has_discharge_date(), order.details().discharge_date());
}

std::optional<absl::CivilDay> SurgeryDay(const v1::OrderState& order) {
  return DayOf(order.details().has_surgery_date(), order.details().surgery_date());
}

bool IsHospital(const v1::PatientStay& stay) { return stay.stay() == v1::STAY_HOSPITAL; }

// Whether the first note is the admission for the operation, not a return to a hospital.
bool BeginsWithAdmission(const v1::OrderState& order) {
  if (order.stays().empty() || !IsHospital(order.stays(0))) return false;
  const auto surgery = SurgeryDay(order);
  return surgery && time::ToDay(order.stays(0).from_date()) <= *surgery;
}

bool BeginsWithDischarge(const v1::OrderState& order) {
  return !order.stays().empty() &&
         (order.stays(0).stay() == v1::STAY_HOME || order.stays(0).stay() == v1::STAY_FACILITY);
}

Where BeforeAnyNote(const v1::OrderState& order, absl::CivilDay day) {
  if (BeginsWithDischarge(order)) return Where::kNotDischarged;
  const auto planned = PlannedDischarge(order);
  return planned && day < *planned ? Where::kNotDischarged : Where::kHome;
}

// The last note that counts on the day, looking at the first `count` ones; -1 for none.
int LastNote(const v1::OrderState& order, absl::CivilDay day, int count) {
  int last = -1;
  for (int i = 0; i < count; ++i) {
    if (time::ToDay(order.stays(i).from_date()) <= day) last = i;
  }
  return last;
}

Where WhereBy(const v1::OrderState& order, absl::CivilDay day, int count, bool leaving_is_home) {
  const int i = LastNote(order, day, count);
  if (i < 0) return BeforeAnyNote(order, day);
  const v1::PatientStay& stay = order.stays(i);
  const bool same_day = time::ToDay(stay.from_date()) == day;
  switch (stay.stay()) {
    case v1::STAY_HOSPITAL:
      if (i == 0 && BeginsWithAdmission(order)) return Where::kNotDischarged;
      break;
    case v1::STAY_FACILITY:
      break;
    case v1::STAY_DIED:
      return same_day ? WhereBy(order, day, i, leaving_is_home) : Where::kDied;
    default:
      return Where::kHome;
  }
  if (same_day && leaving_is_home && WhereBy(order, day - 1, i, false) == Where::kHome) {
    return Where::kHome;
  }
  return IsHospital(stay) ? Where::kHospital : Where::kFacility;
}

}  // namespace

Where WhereOn(const v1::OrderState& order, absl::CivilDay day, bool admission_day_at_home) {
  return WhereBy(order, day, order.stays_size(), admission_day_at_home);
}

const v1::PatientStay* DischargeNote(const v1::OrderState& order) {
  if (!BeginsWithDischarge(order) && !BeginsWithAdmission(order)) return nullptr;
  for (const v1::PatientStay& stay : order.stays()) {
    if (stay.stay() == v1::STAY_HOME) return &stay;
  }
  return nullptr;
}

bool IsDischargeNoted(const v1::OrderState& order) { return DischargeNote(order) != nullptr; }

std::optional<absl::CivilDay> DischargeDay(const v1::OrderState& order) {
  if (const v1::PatientStay* note = DischargeNote(order)) return time::ToDay(note->from_date());
  return PlannedDischarge(order);
}

Use UseOn(const v1::OrderState& order, absl::CivilDay day) {
  const v1::UsePoint* last = nullptr;
  for (const v1::UsePoint& point : order.uses()) {
    if (time::ToDay(point.date()) <= day) last = &point;
  }
  if (last == nullptr) {
    const bool begins = !order.uses().empty() && order.uses(0).change() == v1::USE_CHANGE_STARTED;
    return begins ? Use::kNotYet : Use::kUsed;
  }
  if (last->change() != v1::USE_CHANGE_STOPPED || time::ToDay(last->date()) == day) {
    return Use::kUsed;
  }
  return Use::kNoLonger;
}

const v1::UsePoint* FirstUse(const v1::OrderState& order) {
  for (const v1::UsePoint& point : order.uses()) {
    if (point.change() == v1::USE_CHANGE_STARTED) return &point;
  }
  return nullptr;
}

std::optional<absl::CivilDay> AnchorDay(const v1::OrderState& order, v1::CoverAnchor anchor) {
  switch (anchor) {
    case v1::COVER_ANCHOR_SURGERY:
      return SurgeryDay(order);
    case v1::COVER_ANCHOR_DISCHARGE:
      return DischargeDay(order);
    case v1::COVER_ANCHOR_FIRST_USE:
      if (const v1::UsePoint* first = FirstUse(order)) return time::ToDay(first->date());
      return std::nullopt;
    case v1::COVER_ANCHOR_HAND_OVER:
      return DayOf(order.has_handed_over(), order.handed_over_date());
    default:
      return std::nullopt;
  }
}

}  // namespace ferrule::order
