// Which branch should send what where over the coming days, at the least cost.
#pragma once

#include "absl/status/statusor.h"
#include "core/outlook/records.h"
#include "ferrule/v1/plan_service.pb.h"

namespace ferrule::outlook {

// A unit moves when the shortage that it saves the receiver, less what the sender gives up, is
// worth more than the lane's cost. Only units that are ready and free now can be sent. Errors as
// for Forecast.
absl::StatusOr<v1::ReportTransfersResponse> SuggestTransfers(
    const Records& records, const v1::ReportTransfersRequest& request, int64_t at_us);

}  // namespace ferrule::outlook
