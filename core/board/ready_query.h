// What a unit would go out for, out of an order.
#pragma once

#include "core/depot/settings_book.h"
#include "core/unit/ready.h"
#include "ferrule/v1/states.pb.h"

namespace ferrule::board {

// Fills side, class, the expected return and the use a day until then from the order; `query.at_us`
// must be set. A unit is back once its last day of use is over. The order must outlive the query.
void FillFromOrder(const v1::OrderState& order, const depot::Rules& rules, unit::ReadyQuery* query);

}  // namespace ferrule::board
