// What can be claimed, and what changed after it was billed.
#pragma once

#include <cstdint>

#include "absl/status/statusor.h"
#include "core/ledger/ledger.h"
#include "ferrule/v1/cover_service.pb.h"

namespace ferrule::board {

// Rentals by branch and order, one row a payer. NotFound when the branch is not in the settings;
// InvalidArgument for a day that is none.
absl::StatusOr<v1::ReportClaimsResponse> ReportClaims(ledger::Ledger& ledger,
                                                      const v1::ReportClaimsRequest& request,
                                                      int64_t now_us);

// Compares each billed claim, as the facts and settings recorded by then gave it, with the same
// days by what is known now, and names the fact that changed each day last. A claim whose days a
// later correction states anew is left to that one.
absl::StatusOr<v1::ReportCorrectionsResponse> ReportCorrections(
    ledger::Ledger& ledger, const v1::ReportCorrectionsRequest& request, int64_t now_us);

}  // namespace ferrule::board
