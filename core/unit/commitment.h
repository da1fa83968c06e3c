// Holds for an order that lapse by themselves.
#pragma once

#include <cstdint>

#include "core/time/civil.h"
#include "ferrule/v1/states.pb.h"

namespace ferrule::unit {

// Whether the hold for an order has lapsed: it binds up to its time, not at it.
inline bool HoldLapsed(const v1::UnitState& unit, int64_t at_us) {
  return unit.commitment() == v1::COMMITMENT_HELD && unit.has_hold_until_time() &&
         at_us >= time::ToMicros(unit.hold_until_time());
}

}  // namespace ferrule::unit
