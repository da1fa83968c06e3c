// The life cycle of an order as data: (status, event) to next status, with the rule that is broken
// when the event is out of place. tests/core/order/data/lifecycle_cases.txt is the same in words.
#pragma once

#include <cstdint>

#include "ferrule/v1/findings.pb.h"
#include "ferrule/v1/states.pb.h"

namespace ferrule::order {

// What a fact means to one order.
enum class Event : uint8_t {
  kTaken,
  kChanged,
  kCancelled,
  kHeld,
  kHeldAgain,          // the unit that is held already
  kHoldReleased,       // of the unit that is held
  kOtherHoldReleased,  // of a unit that is not held
  kHandedOver,
  kExchanged,
  kExtended,
  kReinstated,
  kStopped,
  kNoted,  // stays, use, authorisations, confirmations, billed days, orders that follow
  kPickupAgreed,
  kPickupFailed,
  kPickedUp,           // the last unit of the rental
  kOneOfTwoPickedUp,   // another unit of the rental stays
  kOtherUnitPickedUp,  // not a unit of the rental
  kPromised,           // a unit for days to come
  kPromiseReleased,    // of the unit promised
  kWaiting,
  kPromiseRefused,
  kMotionChanged,  // on the device, in the home
  kUsageReported,
};
inline constexpr int kEventCount = static_cast<int>(Event::kUsageReported) + 1;

struct Step {
  v1::OrderStatus next;
  v1::Reason reason = v1::REASON_UNSPECIFIED;
};

// The table. Of an order never taken every event but the taking breaks ORDER_UNKNOWN and changes
// nothing.
Step StatusAfter(v1::OrderStatus status, Event event);

}  // namespace ferrule::order
