// The audit: records that contradict each other, found by named rules.
#pragma once

#include <cstdint>

#include "absl/status/statusor.h"
#include "core/ledger/ledger.h"
#include "ferrule/v1/trace_service.pb.h"

namespace ferrule::trace {

// Every rule, or those named, each with what it found. InvalidArgument, listing the rules, when one
// is unknown.
absl::StatusOr<v1::ReportAuditResponse> ReportAudit(ledger::Ledger& ledger,
                                                    const v1::ReportAuditRequest& request,
                                                    int64_t now_us);

}  // namespace ferrule::trace
