// What a surveyor asks for, in one answer: rentals drawn by chance with their proofs, recalls with
// their figures, holds in force.
#pragma once

#include <cstdint>
#include <vector>

#include "absl/status/statusor.h"
#include "core/ledger/ledger.h"
#include "ferrule/v1/trace_service.pb.h"

namespace ferrule::trace {

// `count` different numbers below `size`, or all of them, in rising order; the same seed draws the
// same ones.
std::vector<size_t> Draw(size_t size, size_t count, uint64_t seed);

// InvalidArgument when more than 200 rentals are asked for.
absl::StatusOr<v1::ReportSurveyResponse> ReportSurvey(ledger::Ledger& ledger,
                                                      const v1::ReportSurveyRequest& request,
                                                      int64_t now_us);

}  // namespace ferrule::trace
