// A stocktake against the books: what should have stood there, what was seen, what explains the
// difference. Gains and losses are never set off against each other.
#pragma once

#include <cstdint>

#include "absl/status/statusor.h"
#include "core/ledger/ledger.h"
#include "ferrule/v1/stock_service.pb.h"

namespace ferrule::stores {

// The books are those of the cut-off, by true time; what moved between the cut-off and the tally of
// a place is taken along, listed, and no difference. While a place has no tally only its name is
// given, so that the count is blind. NotFound when the stocktake is not known.
absl::StatusOr<v1::GetCountResponse> GetCount(ledger::Ledger& ledger,
                                              const v1::GetCountRequest& request, int64_t now_us);
absl::StatusOr<v1::ListCountsResponse> ListCounts(ledger::Ledger& ledger,
                                                  const v1::ListCountsRequest& request,
                                                  int64_t now_us);

}  // namespace ferrule::stores
