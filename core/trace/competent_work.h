// Work that asks for a competence, and whether its doer had it on that day.
#pragma once

#include <cstdint>

#include "absl/status/statusor.h"
#include "core/ledger/ledger.h"
#include "ferrule/v1/trace_service.pb.h"

namespace ferrule::trace {

// Judged by the access rules in force now, which say who was competent on which days: what was
// entered since then counts. The day is local to the branch of the fact's unit or order as it
// stands now. Where the rules ask for no competence, set-ups, inspections, repairs and service are
// listed. InvalidArgument when the request names no kind of fact.
absl::StatusOr<v1::ListCompetentWorkResponse> ListCompetentWork(
    ledger::Ledger& ledger, const v1::ListCompetentWorkRequest& request, int64_t now_us);

}  // namespace ferrule::trace
