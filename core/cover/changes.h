// What changed between a ledger as it was billed and the same days as they are known now.
#pragma once

#include <cstdint>
#include <vector>

#include "absl/time/civil_time.h"
#include "ferrule/v1/cover_service.pb.h"

namespace ferrule::cover {

// Units that a payer pays for within the days [from, through]: covered days, or covered months that
// begin in them.
int UnitsWithin(const v1::DayLedger& ledger, absl::CivilDay from, absl::CivilDay through);

// The days of [from, through] whose state or reason differs, each with both. A day that only one
// ledger has is unspecified in the other.
std::vector<v1::CorrectedDay> ChangedDays(const v1::DayLedger& then, const v1::DayLedger& now,
                                          absl::CivilDay from, absl::CivilDay through);

}  // namespace ferrule::cover
