// The bench's answers about many units: failures beyond chance, reliability, drift, spares.
#pragma once

#include <cstdint>
#include <vector>

#include "absl/status/statusor.h"
#include "core/bench/fleet_reliability.h"
#include "core/board/unit_facts.h"
#include "core/ledger/ledger.h"
#include "ferrule/v1/bench_service.pb.h"

namespace ferrule::board {

// The pasts of the units from `from_us` on.
struct Fleet {
  std::vector<bench::UnitPast> units;
  int64_t spent = 0;  // on their repairs, hundredths of the currency, over all times
  int64_t turns = 0;  // over all times
};
absl::StatusOr<Fleet> FleetPasts(ledger::Ledger& ledger, const UnitFilter& filter, int64_t from_us,
                                 int64_t now_us);

absl::StatusOr<v1::ReportFailingUnitsResponse> ReportFailingUnits(
    ledger::Ledger& ledger, const v1::ReportFailingUnitsRequest& request, int64_t now_us);
absl::StatusOr<v1::ReportReliabilityResponse> ReportReliability(
    ledger::Ledger& ledger, const v1::ReportReliabilityRequest& request, int64_t now_us);
absl::StatusOr<v1::ReportDriftResponse> ReportDrift(ledger::Ledger& ledger,
                                                    const v1::ReportDriftRequest& request,
                                                    int64_t now_us);
absl::StatusOr<v1::ReportSparesResponse> ReportSpares(ledger::Ledger& ledger,
                                                      const v1::ReportSparesRequest& request,
                                                      int64_t now_us);

}  // namespace ferrule::board
