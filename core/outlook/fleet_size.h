// How many units to keep, by every rule side by side with the money.
#pragma once

#include "absl/status/statusor.h"
#include "core/outlook/records.h"
#include "ferrule/v1/plan_service.pb.h"

namespace ferrule::outlook {

inline constexpr int kUsualPaths = 2000;

// Errors as for Forecast; InvalidArgument for targets, budget or paths out of their ranges.
absl::StatusOr<v1::ReportFleetSizeResponse> SizeFleets(const Records& records,
                                                       const v1::ReportFleetSizeRequest& request,
                                                       int64_t at_us);

// InvalidArgument when `paths` is neither 0 (then kUsualPaths) nor within [100, 20,000].
absl::StatusOr<int> PathsOf(int paths);

}  // namespace ferrule::outlook
