// The board: units by branch and class, each in exactly one column.
#pragma once

#include <cstdint>

#include "absl/status/statusor.h"
#include "core/ledger/ledger.h"
#include "ferrule/v1/depot_service.pb.h"

namespace ferrule::board {

// At `now_us`, or as it stood at the request's known time. NotFound when the branch is not in the
// settings.
absl::StatusOr<v1::GetBoardResponse> Board(ledger::Ledger& ledger,
                                           const v1::GetBoardRequest& request, int64_t now_us);

}  // namespace ferrule::board
