// Complaints with their clocks, and the figures of them.
#pragma once

#include <cstdint>
#include <vector>

#include "absl/status/statusor.h"
#include "core/ledger/ledger.h"
#include "ferrule/v1/trace_service.pb.h"

namespace ferrule::trace {

// The clock of a complaint at an instant: from the day it came to the first answer, or until now.
// `late_days` as in the request, 0 means 5.
v1::ComplaintRow ClockOf(const v1::ComplaintState& complaint, int late_days, int64_t now_us);

// The figures of all rows. The median of an even number is the mean of the two in the middle.
v1::ComplaintTotals TotalsOf(const std::vector<v1::ComplaintRow>& rows);

absl::StatusOr<v1::ListComplaintsResponse> ListComplaints(ledger::Ledger& ledger,
                                                          const v1::ListComplaintsRequest& request,
                                                          int64_t now_us);

}  // namespace ferrule::trace
