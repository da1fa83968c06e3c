// What is due: every rental whose due day has come, with the date that makes it so.
#pragma once

#include <cstdint>

#include "absl/status/statusor.h"
#include "core/ledger/ledger.h"
#include "ferrule/v1/depot_service.pb.h"

namespace ferrule::board {

// "Today" is each branch's local day at `now_us`, or at the request's known time. NotFound when
// the branch is not in the settings; InvalidArgument for a day that is none.
absl::StatusOr<v1::ReportDueResponse> ReportDue(ledger::Ledger& ledger,
                                                const v1::ReportDueRequest& request,
                                                int64_t now_us);

}  // namespace ferrule::board
