// A recall's worklist: everything that it covers, who has it now, what became of it.
#pragma once

#include <cstdint>

#include "absl/status/statusor.h"
#include "core/ledger/ledger.h"
#include "ferrule/v1/trace_service.pb.h"

namespace ferrule::trace {

// Units by model, serial number or tag; units that ever held a part or a part of a lot, also when
// it has been taken out since; parts that are in no unit; lots on the shelf; orders whose patients
// got pieces of a lot. NotFound when the recall is not known, InvalidArgument when neither a recall
// nor a scope is given.
absl::StatusOr<v1::ListRecallItemsResponse> ListRecallItems(
    ledger::Ledger& ledger, const v1::ListRecallItemsRequest& request, int64_t now_us);
absl::StatusOr<v1::ListRecallsResponse> ListRecalls(ledger::Ledger& ledger,
                                                    const v1::ListRecallsRequest& request,
                                                    int64_t now_us);

}  // namespace ferrule::trace
