// Days to come that are promised of a unit to others.
#pragma once

#include <cstdint>
#include <string_view>
#include <vector>

#include "core/depot/settings_book.h"
#include "ferrule/v1/states.pb.h"

namespace ferrule::unit {

// The promises to other orders that keep the unit from being given to `order`: all that bind at
// that instant, unless the order has a promise of its own, whose days are then nobody else's.
// Nothing for an empty order. The pointers live as long as the state.
std::vector<const v1::StandingPromise*> PromisesToOthers(const v1::UnitState& unit,
                                                         std::string_view order, int64_t at_us,
                                                         const depot::Rules& rules);

}  // namespace ferrule::unit
