// The bench's answers about one unit.
#pragma once

#include <cstdint>

#include "absl/status/statusor.h"
#include "core/ledger/ledger.h"
#include "ferrule/v1/bench_service.pb.h"

namespace ferrule::board {

// NotFound when nothing is recorded about the unit. Findings carry no words yet.
absl::StatusOr<v1::AssessFailureResponse> AssessFailure(ledger::Ledger& ledger,
                                                        const v1::AssessFailureRequest& request,
                                                        int64_t now_us);
absl::StatusOr<v1::GetRunHoursResponse> GetRunHours(ledger::Ledger& ledger,
                                                    const v1::GetRunHoursRequest& request,
                                                    int64_t now_us);
absl::StatusOr<v1::AssessRepairResponse> AssessRepair(ledger::Ledger& ledger,
                                                      const v1::AssessRepairRequest& request,
                                                      int64_t now_us);
// Of one unit, or of all units by product and lot.
absl::StatusOr<v1::ReportCleaningsResponse> ReportCleanings(
    ledger::Ledger& ledger, const v1::ReportCleaningsRequest& request, int64_t now_us);

}  // namespace ferrule::board
