// Who looked at a patient's record, who changed it, and to whom it was given.
#pragma once

#include <cstdint>
#include <string>

#include "absl/status/statusor.h"
#include "core/ledger/ledger.h"
#include "ferrule/v1/trace_service.pb.h"

namespace ferrule::trace {

// Reads out of the log of reads, of the particulars and of the patient's orders; changes out of the
// histories of the orders, at the time at which they were recorded; disclosures at their own time.
// Without a time six years back, which is how far 45 CFR 164.528 lets a patient ask (from memory;
// the depot's own rules may ask for more). At most 5,000 rows. `in_place_of_patients`, unless
// empty, stands where the patient's reference would.
absl::StatusOr<v1::ReportPatientTrailResponse> ReportPatientTrail(
    ledger::Ledger& ledger, const v1::ReportPatientTrailRequest& request, int64_t now_us,
    const std::string& in_place_of_patients = "");

}  // namespace ferrule::trace
