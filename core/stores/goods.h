// Goods on the shelves: by place, lot and expiry; which lots to take first.
#pragma once

#include <cstdint>
#include <string>
#include <vector>

#include "absl/functional/function_ref.h"
#include "absl/status/statusor.h"
#include "core/ledger/ledger.h"
#include "ferrule/v1/stock_service.pb.h"

namespace ferrule::stores {

// Every lot and every item that is only counted, in the order of their names; `visit` gets the lot,
// empty for an item, the item and the book.
absl::Status EachBook(store::Connection& connection,
                      absl::FunctionRef<void(const std::string& lot, const std::string& item,
                                             const v1::StockBook& book)>
                          visit);
// The rows of one book, one a place; `now_us` says what is expired.
std::vector<v1::StockRow> RowsOf(const std::string& lot, const std::string& item,
                                 const v1::StockBook& book, const depot::Rules& rules,
                                 int64_t now_us);
// The order in which lots are taken: what expires first, then by lot and place; what has no expiry
// comes last. (First expired, first out: common practice, no source.)
bool TakenBefore(const v1::StockRow& a, const v1::StockRow& b);

absl::StatusOr<v1::ListStockResponse> ListStock(ledger::Ledger& ledger,
                                                const v1::ListStockRequest& request,
                                                int64_t now_us);
absl::StatusOr<v1::ReportPickingResponse> ReportPicking(ledger::Ledger& ledger,
                                                        const v1::ReportPickingRequest& request,
                                                        int64_t now_us);

}  // namespace ferrule::stores
