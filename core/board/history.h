// A subject's facts in true time, reversed ones marked.
#pragma once

#include <cstdint>

#include "absl/status/statusor.h"
#include "core/ledger/ledger.h"
#include "ferrule/v1/depot_service.pb.h"

namespace ferrule::board {

// The page token is "position in the ledger:facts already shown", so that later pages do not shift.
absl::StatusOr<v1::ListHistoryResponse> ListHistory(ledger::Ledger& ledger,
                                                    const v1::ListHistoryRequest& request,
                                                    int64_t now_us);

}  // namespace ferrule::board
