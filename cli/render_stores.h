// Goods, transfers, places, stocktakes and recalls as lists of named values.
#pragma once

#include "absl/time/time.h"
#include "cli/render_fields.h"
#include "ferrule/v1/states.pb.h"

namespace ferrule::cli {

// What the stores know of a lot or an item; nothing when it was never received.
void AddBookFields(const v1::StockBook& book, absl::TimeZone zone, Fields* fields);
// The fields of an item, transfer, place, stocktake or recall; nothing for any other state.
void AddStoresFields(const v1::SubjectState& state, absl::TimeZone zone, Fields* fields);

}  // namespace ferrule::cli
