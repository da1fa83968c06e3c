// What came in that the records did not expect, with what may explain it.
#pragma once

#include <cstdint>

#include "absl/status/statusor.h"
#include "core/ledger/ledger.h"
#include "ferrule/v1/bench_service.pb.h"

namespace ferrule::board {

// Findings carry no words yet; NotFound when nothing is recorded about the unit.
absl::StatusOr<v1::AssessReturnResponse> AssessReturn(ledger::Ledger& ledger,
                                                      const v1::AssessReturnRequest& request,
                                                      int64_t now_us);
absl::StatusOr<v1::ReportStraysResponse> ReportStrays(ledger::Ledger& ledger,
                                                      const v1::ReportStraysRequest& request,
                                                      int64_t now_us);

}  // namespace ferrule::board
