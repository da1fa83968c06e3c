// Which records may be destroyed on a day, and what keeps the others.
#pragma once

#include <cstdint>
#include <string>

#include "absl/status/statusor.h"
#include "core/ledger/ledger.h"
#include "ferrule/v1/trace_service.pb.h"

namespace ferrule::trace {

// Looks at every patient's particulars and every message that are kept, and at every order and
// complaint. Destroys nothing. `in_place_of_patients`, unless empty, stands where a patient's
// reference would. InvalidArgument for a page_token of another list.
absl::StatusOr<v1::ListRecordsDueResponse> ListRecordsDue(
    ledger::Ledger& ledger, const v1::ListRecordsDueRequest& request, int64_t now_us,
    const std::string& in_place_of_patients = "");

// Whether a patient's particulars or a message may be destroyed for all that holds of orders say:
// FailedPrecondition, naming order, matter and reason, while one stands, whatever the rules of
// keeping say. `resource` as ListRecordsDue names it, of `kind`; OK as well for one that is not
// kept.
absl::Status NotHeld(ledger::Ledger& ledger, v1::RecordKind kind, const std::string& resource,
                     int64_t now_us);

}  // namespace ferrule::trace
