// Which unit fits this patient: the units of a class, the best first, and why each other one does
// not fit.
#pragma once

#include <cstdint>

#include "absl/status/statusor.h"
#include "core/board/promise_pool.h"
#include "ferrule/v1/promise_service.pb.h"

namespace ferrule::board {

// At `now_us`, or the request's own instant. Findings carry no words yet. NotFound for an order or
// a branch that is not on the records; FailedPrecondition for an order without a class of device.
absl::StatusOr<v1::AssessFitResponse> AssessFit(ledger::Ledger& ledger, PromiseDesk& desk,
                                                const v1::AssessFitRequest& request,
                                                int64_t now_us);

}  // namespace ferrule::board
