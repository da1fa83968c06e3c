// Which records may be destroyed on a day, and what keeps the others.
#pragma once

#include <cstdint>

#include "absl/status/statusor.h"
#include "core/ledger/ledger.h"
#include "ferrule/v1/trace_service.pb.h"

namespace ferrule::trace {

// Looks at every patient's particulars and every message that are kept, and at every order and
// complaint. Destroys nothing.
absl::StatusOr<v1::ListRecordsDueResponse> ListRecordsDue(ledger::Ledger& ledger,
                                                          const v1::ListRecordsDueRequest& request,
                                                          int64_t now_us);

}  // namespace ferrule::trace
