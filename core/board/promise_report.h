// The promises that stand with their odds now, and whoever waits.
#pragma once

#include <cstdint>

#include "absl/status/statusor.h"
#include "core/board/promise_pool.h"
#include "ferrule/v1/promise_service.pb.h"

namespace ferrule::board {

// By first day, then by order. NotFound when the branch is not in the settings.
absl::StatusOr<v1::ReportPromisesResponse> ReportPromises(ledger::Ledger& ledger, PromiseDesk& desk,
                                                          const v1::ReportPromisesRequest& request,
                                                          int64_t now_us);

// In the order in which they are to be served. The page token is the last order of the page; when
// that one has left the list meanwhile, the page begins with whoever comes after it.
absl::StatusOr<v1::ListWaitingResponse> ListWaiting(ledger::Ledger& ledger, PromiseDesk& desk,
                                                    const v1::ListWaitingRequest& request,
                                                    int64_t now_us);

}  // namespace ferrule::board
