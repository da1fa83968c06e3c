// Who and what a soiled unit met until it was cleaned.
#pragma once

#include <cstdint>

#include "absl/status/statusor.h"
#include "core/ledger/ledger.h"
#include "ferrule/v1/trace_service.pb.h"

namespace ferrule::trace {

// From the return that is named, or the last one that soiled the unit, until the next cleaning that
// counted. NotFound when the unit is not known, InvalidArgument when it was not soiled then.
absl::StatusOr<v1::ReportExposureResponse> ReportExposure(ledger::Ledger& ledger,
                                                          const v1::ReportExposureRequest& request,
                                                          int64_t now_us);

}  // namespace ferrule::trace
