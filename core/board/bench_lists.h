// The bench's lists: what to do next, what service is due, what is in doubt, what is missing.
#pragma once

#include <cstdint>

#include "absl/status/statusor.h"
#include "core/ledger/ledger.h"
#include "ferrule/v1/bench_service.pb.h"

namespace ferrule::board {

absl::StatusOr<v1::ReportBenchResponse> ReportBench(ledger::Ledger& ledger,
                                                    const v1::ReportBenchRequest& request,
                                                    int64_t now_us);
absl::StatusOr<v1::ReportServiceResponse> ReportService(ledger::Ledger& ledger,
                                                        const v1::ReportServiceRequest& request,
                                                        int64_t now_us);
absl::StatusOr<v1::ReportDoubtsResponse> ReportDoubts(ledger::Ledger& ledger,
                                                      const v1::ReportDoubtsRequest& request,
                                                      int64_t now_us);
absl::StatusOr<v1::ReportMissingAccessoriesResponse> ReportMissingAccessories(
    ledger::Ledger& ledger, const v1::ReportMissingAccessoriesRequest& request, int64_t now_us);

}  // namespace ferrule::board
