// Where the patient of an order is on a civil day, when the device is used, and the days from which
// payers count. Days are local to the order's branch.
#pragma once

#include <optional>

#include "absl/time/civil_time.h"
#include "ferrule/v1/cover.pb.h"
#include "ferrule/v1/states.pb.h"

namespace ferrule::order {

enum class Where {
  kHome,
  kNotDischarged,  // still in the hospital of the operation
  kHospital,       // again in a hospital
  kFacility,
  kDied,
};

// The day of a change belongs to where the patient goes, so the day of the discharge is a day at
// home; with `admission_day_at_home` the day on which a patient leaves the home is one, too, and
// the day of death is where the patient was. Before the first note the patient is not discharged
// if that note is a discharge, or until the planned day of discharge; otherwise at home.
Where WhereOn(const v1::OrderState& order, absl::CivilDay day, bool admission_day_at_home);

// The day of the discharge to the home: as it was noted, otherwise as it is planned.
std::optional<absl::CivilDay> DischargeDay(const v1::OrderState& order);
// Whether it was noted.
bool IsDischargeNoted(const v1::OrderState& order);
// The first note of the patient's coming home; null when the discharge was not noted.
const v1::PatientStay* DischargeNote(const v1::OrderState& order);

enum class Use { kUsed, kNotYet, kNoLonger };

// The day on which use ends is a day of use. Without any note it counts as used.
Use UseOn(const v1::OrderState& order, absl::CivilDay day);
// The first day of use, in the hospital or at home; none when it was not noted.
const v1::UsePoint* FirstUse(const v1::OrderState& order);

// The day from which a payer counts; none while it is not known.
std::optional<absl::CivilDay> AnchorDay(const v1::OrderState& order, v1::CoverAnchor anchor);

}  // namespace ferrule::order
