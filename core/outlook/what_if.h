// What if: the recorded year run again and the coming days forecast again with something changed,
// side by side with how it is, by common random numbers.
#pragma once

#include "absl/status/statusor.h"
#include "core/outlook/records.h"
#include "ferrule/v1/plan_service.pb.h"

namespace ferrule::outlook {

// InvalidArgument for no change, or one that is malformed; NotFound for a prescriber without
// orders. Other errors as for Forecast.
absl::StatusOr<v1::ReportWhatIfResponse> WhatIf(const Records& records,
                                                const v1::ReportWhatIfRequest& request,
                                                int64_t at_us);

}  // namespace ferrule::outlook
