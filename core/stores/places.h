// What is at a place, on a van, in a closet, on the way; par and what is missing to it.
#pragma once

#include <cstdint>
#include <string>

#include "absl/functional/function_ref.h"
#include "absl/status/statusor.h"
#include "core/ledger/ledger.h"
#include "ferrule/v1/stock_service.pb.h"

namespace ferrule::stores {

// NotFound when the settings have no such place.
absl::StatusOr<v1::GetPlaceResponse> GetPlace(ledger::Ledger& ledger,
                                              const v1::GetPlaceRequest& request, int64_t now_us);
absl::StatusOr<v1::ListTransfersResponse> ListTransfers(ledger::Ledger& ledger,
                                                        const v1::ListTransfersRequest& request,
                                                        int64_t now_us);

// Goods of transfers that have not arrived, with the branch that they are to arrive at.
absl::Status AddGoodsOnTheWay(
    store::Connection& connection, const depot::Rules& rules,
    absl::FunctionRef<void(const std::string& branch, const v1::StockLine& line)> add);
// Adds the par levels of a branch, or of all, that are not met.
absl::StatusOr<v1::ReportReorderResponse> AddPars(ledger::Ledger& ledger, const std::string& branch,
                                                  int64_t now_us,
                                                  v1::ReportReorderResponse response);

}  // namespace ferrule::stores
