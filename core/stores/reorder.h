// What to order, and what to put where.
#pragma once

#include <cstdint>
#include <string>
#include <vector>

#include "absl/status/statusor.h"
#include "core/ledger/ledger.h"
#include "ferrule/v1/stock.pb.h"
#include "ferrule/v1/stock_service.pb.h"

namespace ferrule::stores {

// Order when no more than `point` pieces can be used, and then up to `up_to`.
struct ReorderLevels {
  int cover_days = 0;  // lead time and review: what is on the shelf has to last that long
  int64_t point = 0;
  int64_t up_to = 0;
};

// The smallest stock that lasts through lead time and review with the chance that the item's
// settings ask for: the quantile of a count law whose mean and variance are those of a day's use,
// times the days. Use of different days is taken as independent. Source: reorder point under
// periodic review with probabilistic demand (Silver, Pyke and Thomas, Inventory and Production
// Management in Supply Chains; from memory), with a count law in place of the normal one, since
// pieces are few.
//   `daily`  pieces used on each day of the window, 0 or more
ReorderLevels LevelsOf(const std::vector<int64_t>& daily, const v1::StockItem& item);
// Pieces to order now, in whole packages.
int64_t OrderCount(const ReorderLevels& levels, int64_t usable, int package_pieces);

absl::StatusOr<v1::ReportReorderResponse> ReportReorder(ledger::Ledger& ledger,
                                                        const v1::ReportReorderRequest& request,
                                                        int64_t now_us);

}  // namespace ferrule::stores
