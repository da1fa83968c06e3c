// The agenda of a branch, and an order's papers, from the records.
#pragma once

#include <cstdint>
#include <string>

#include "absl/status/statusor.h"
#include "core/ledger/ledger.h"
#include "ferrule/v1/papers_service.pb.h"

namespace ferrule::board {

// NotFound for a branch that the settings do not have; InvalidArgument when none is named and there
// are several, or for a day that is none.
absl::StatusOr<v1::GetAgendaResponse> Agenda(ledger::Ledger& ledger,
                                             const v1::GetAgendaRequest& request, int64_t now_us);

// A paper as HTML; `in_place_of_patients`, unless empty, stands where a patient's reference would.
// NotFound for an order or a unit that is not in the records; otherwise as above.
absl::StatusOr<v1::GetPaperResponse> Paper(ledger::Ledger& ledger,
                                           const v1::GetPaperRequest& request, int64_t now_us,
                                           const std::string& in_place_of_patients = "");

}  // namespace ferrule::board
