// The depot's measures over a window of local days, from what was known at an instant.
#pragma once

#include "absl/status/statusor.h"
#include "core/outlook/records.h"
#include "ferrule/v1/plan_service.pb.h"

namespace ferrule::outlook {

// InvalidArgument for a window that is none or lies in the future, NotFound for a branch, class or
// measure that does not exist; both say what would be right. Cases still open at the end count as
// lasting at least so long; nothing counted gives no figure, never 0.
absl::StatusOr<v1::ReportMeasuresResponse> Measures(const Records& records,
                                                    const v1::ReportMeasuresRequest& request,
                                                    int64_t at_us);

}  // namespace ferrule::outlook
