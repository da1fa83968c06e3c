// Lists by page: units, orders, open questions.
#pragma once

#include <cstdint>

#include "absl/status/statusor.h"
#include "core/ledger/ledger.h"
#include "ferrule/v1/depot_service.pb.h"

namespace ferrule::board {

// Page tokens in and out are the last name of the page; the service seals them.
absl::StatusOr<v1::ListUnitsResponse> ListUnits(ledger::Ledger& ledger,
                                                const v1::ListUnitsRequest& request,
                                                int64_t now_us);
absl::StatusOr<v1::ListOrdersResponse> ListOrders(ledger::Ledger& ledger,
                                                  const v1::ListOrdersRequest& request,
                                                  int64_t now_us);
// A page ends between subjects, so it may hold some more questions than asked for.
absl::StatusOr<v1::ListQuestionsResponse> ListQuestions(ledger::Ledger& ledger,
                                                        const v1::ListQuestionsRequest& request,
                                                        int64_t now_us);

// The page size that a request means: `usual` for 0, at most 1,000; InvalidArgument when negative.
absl::StatusOr<int> PageSize(int asked, int usual);

}  // namespace ferrule::board
