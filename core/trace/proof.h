// Cleaned, inspected, handed over: the chain before every hand-over, as a proof page of one rental
// and as the list of those hand-overs whose chain is not whole.
#pragma once

#include <cstdint>
#include <string>
#include <vector>

#include "absl/status/statusor.h"
#include "core/depot/settings_book.h"
#include "core/fact/fact_view.h"
#include "core/ledger/ledger.h"
#include "ferrule/v1/trace_service.pb.h"

namespace ferrule::trace {

// Whether a rule belongs to the chain: hygiene, patient data, inspection, parts, service, holds.
// The others (whose unit it is, which side) are shown, and leave the chain whole.
bool IsOfChain(v1::Reason reason);

// Every time a unit went out, out of its facts in any order: what was recorded before, which rules
// the hand-over broke, which were set aside.
std::vector<v1::ProofLeg> LegsOf(const std::string& unit_name, std::vector<fact::FactView> facts,
                                 const depot::SettingsBook& book);

// NotFound when nothing is recorded about the order.
absl::StatusOr<v1::GetProofResponse> GetProof(ledger::Ledger& ledger,
                                              const v1::GetProofRequest& request, int64_t now_us);
absl::StatusOr<v1::ReportViolationsResponse> ReportViolations(
    ledger::Ledger& ledger, const v1::ReportViolationsRequest& request, int64_t now_us);

}  // namespace ferrule::trace
