// What moves, and which later promises break, if an operation moves: before it is applied.
#pragma once

#include <cstdint>

#include "absl/status/statusor.h"
#include "core/board/promise_pool.h"
#include "ferrule/v1/promise_service.pb.h"

namespace ferrule::board {

// The order's own dates before and after, the promises of the same pool whose odds change, and the
// facts that would apply it. While the order has a promise it keeps its unit if that is free for
// the new days, otherwise the best other one. InvalidArgument for a day that is none; NotFound
// for an order that is not on the records; FailedPrecondition for one without a day of operation,
// without branch or class, cancelled or over.
absl::StatusOr<v1::AssessMoveResponse> AssessMove(ledger::Ledger& ledger, PromiseDesk& desk,
                                                  const v1::AssessMoveRequest& request,
                                                  int64_t now_us);

}  // namespace ferrule::board
