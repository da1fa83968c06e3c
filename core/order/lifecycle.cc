#include "core/order/lifecycle.h"

#include <array>
#include <cstddef>

namespace ferrule::order {
namespace {

constexpr auto kOpen = v1::ORDER_STATUS_OPEN;
constexpr auto kHeld = v1::ORDER_STATUS_HELD;
constexpr auto kRent = v1::ORDER_STATUS_ON_RENT;
constexpr auto kClosed = v1::ORDER_STATUS_CLOSED;
constexpr auto kGone = v1::ORDER_STATUS_CANCELLED;

struct Row {
  Event event;
  std::array<Step, 6> from;  // never taken, open, held, on rent, closed, cancelled
};

constexpr Row On(Event event, Step open, Step held, Step rent, Step closed, Step gone) {
  return {
      event,
      {{{v1::ORDER_STATUS_UNSPECIFIED, v1::REASON_ORDER_UNKNOWN}, open, held, rent, closed, gone}}};
}

constexpr std::array<Row, kEventCount> kTable = {{
    // A cancelled order that is taken again is reinstated.
    {Event::kTaken,
     {{{kOpen},
       {kOpen, v1::REASON_ORDER_NUMBER_IN_USE},
       {kHeld, v1::REASON_ORDER_NUMBER_IN_USE},
       {kRent, v1::REASON_ORDER_NUMBER_IN_USE},
       {kClosed, v1::REASON_ORDER_NUMBER_IN_USE},
       {kOpen}}}},
    // Papers still come after the end, so a closed order may change; a cancelled one must be taken
    // again first.
    On(Event::kChanged, {kOpen}, {kHeld}, {kRent}, {kClosed}, {kGone, v1::REASON_ORDER_CANCELLED}),
    // With a unit in the home the rental goes on until it is picked up.
    On(Event::kCancelled, {kGone}, {kGone}, {kRent, v1::REASON_ORDER_ON_RENT},
       {kClosed, v1::REASON_ORDER_CLOSED}, {kGone, v1::REASON_ORDER_CANCELLED}),
    On(Event::kHeld, {kHeld}, {kHeld, v1::REASON_ORDER_HAS_OTHER_UNIT},
       {kRent, v1::REASON_ORDER_ON_RENT}, {kClosed, v1::REASON_ORDER_CLOSED},
       {kGone, v1::REASON_ORDER_CANCELLED}),
    On(Event::kHeldAgain, {kHeld}, {kHeld}, {kRent, v1::REASON_ORDER_ON_RENT},
       {kClosed, v1::REASON_ORDER_CLOSED}, {kGone, v1::REASON_ORDER_CANCELLED}),
    // The cancellation ended the hold here; the release that goes with it is for the unit.
    On(Event::kHoldReleased, {kOpen, v1::REASON_NOT_HELD_FOR_ORDER}, {kOpen},
       {kRent, v1::REASON_NOT_HELD_FOR_ORDER}, {kClosed, v1::REASON_NOT_HELD_FOR_ORDER}, {kGone}),
    On(Event::kOtherHoldReleased, {kOpen, v1::REASON_NOT_HELD_FOR_ORDER},
       {kHeld, v1::REASON_NOT_HELD_FOR_ORDER}, {kRent, v1::REASON_NOT_HELD_FOR_ORDER},
       {kClosed, v1::REASON_NOT_HELD_FOR_ORDER}, {kGone}),
    On(Event::kHandedOver, {kRent}, {kRent}, {kRent, v1::REASON_ORDER_ON_RENT},
       {kRent, v1::REASON_ORDER_CLOSED}, {kRent, v1::REASON_ORDER_CANCELLED}),
    On(Event::kExchanged, {kRent, v1::REASON_ORDER_NOT_ON_RENT},
       {kRent, v1::REASON_ORDER_NOT_ON_RENT}, {kRent}, {kRent, v1::REASON_ORDER_CLOSED},
       {kRent, v1::REASON_ORDER_CANCELLED}),
    // Extensions come late, too.
    On(Event::kExtended, {kOpen}, {kHeld}, {kRent}, {kClosed}, {kGone, v1::REASON_ORDER_CANCELLED}),
    On(Event::kReinstated, {kOpen, v1::REASON_ORDER_NOT_CANCELLED},
       {kHeld, v1::REASON_ORDER_NOT_CANCELLED}, {kRent, v1::REASON_ORDER_NOT_CANCELLED},
       {kClosed, v1::REASON_ORDER_NOT_CANCELLED}, {kOpen}),
    On(Event::kStopped, {kOpen}, {kHeld}, {kRent}, {kClosed}, {kGone, v1::REASON_ORDER_CANCELLED}),
    On(Event::kNoted, {kOpen}, {kHeld}, {kRent}, {kClosed}, {kGone}),
    On(Event::kPickupAgreed, {kOpen, v1::REASON_ORDER_NOT_ON_RENT},
       {kHeld, v1::REASON_ORDER_NOT_ON_RENT}, {kRent}, {kClosed, v1::REASON_ORDER_CLOSED},
       {kGone, v1::REASON_ORDER_CANCELLED}),
    On(Event::kPickupFailed, {kOpen, v1::REASON_ORDER_NOT_ON_RENT},
       {kHeld, v1::REASON_ORDER_NOT_ON_RENT}, {kRent}, {kClosed, v1::REASON_ORDER_CLOSED},
       {kGone, v1::REASON_ORDER_CANCELLED}),
    // Without a hand-over on the records there is no rental to end.
    On(Event::kPickedUp, {kOpen, v1::REASON_ORDER_NOT_ON_RENT},
       {kHeld, v1::REASON_ORDER_NOT_ON_RENT}, {kClosed}, {kClosed, v1::REASON_ORDER_CLOSED},
       {kGone, v1::REASON_ORDER_CANCELLED}),
    On(Event::kOneOfTwoPickedUp, {kOpen, v1::REASON_ORDER_NOT_ON_RENT},
       {kHeld, v1::REASON_ORDER_NOT_ON_RENT}, {kRent}, {kClosed, v1::REASON_ORDER_CLOSED},
       {kGone, v1::REASON_ORDER_CANCELLED}),
    On(Event::kOtherUnitPickedUp, {kOpen, v1::REASON_ORDER_NOT_ON_RENT},
       {kHeld, v1::REASON_ORDER_NOT_ON_RENT}, {kRent, v1::REASON_ORDER_HAS_OTHER_UNIT},
       {kClosed, v1::REASON_ORDER_CLOSED}, {kGone, v1::REASON_ORDER_CANCELLED}),
    On(Event::kPromised, {kOpen}, {kHeld}, {kRent, v1::REASON_ORDER_ON_RENT},
       {kClosed, v1::REASON_ORDER_CLOSED}, {kGone, v1::REASON_ORDER_CANCELLED}),
    // Whoever hands over another unit, or cancels, releases the promise in the same entry.
    On(Event::kPromiseReleased, {kOpen}, {kHeld}, {kRent}, {kClosed}, {kGone}),
    On(Event::kWaiting, {kOpen}, {kHeld}, {kRent, v1::REASON_ORDER_ON_RENT},
       {kClosed, v1::REASON_ORDER_CLOSED}, {kGone, v1::REASON_ORDER_CANCELLED}),
    // A refusal is a record of demand, whatever became of the order.
    On(Event::kPromiseRefused, {kOpen}, {kHeld}, {kRent}, {kClosed}, {kGone}),
    On(Event::kMotionChanged, {kOpen, v1::REASON_ORDER_NOT_ON_RENT},
       {kHeld, v1::REASON_ORDER_NOT_ON_RENT}, {kRent}, {kClosed, v1::REASON_ORDER_CLOSED},
       {kGone, v1::REASON_ORDER_CANCELLED}),
    // A report may come after the pick-up.
    On(Event::kUsageReported, {kOpen, v1::REASON_ORDER_NOT_ON_RENT},
       {kHeld, v1::REASON_ORDER_NOT_ON_RENT}, {kRent}, {kClosed},
       {kGone, v1::REASON_ORDER_CANCELLED}),
}};

constexpr bool RowsInOrder() {
  for (size_t i = 0; i < kTable.size(); ++i) {
    if (kTable[i].event != static_cast<Event>(i)) return false;
  }
  return true;
}
static_assert(RowsInOrder());

}  // namespace

Step StatusAfter(v1::OrderStatus status, Event event) {
  return kTable[static_cast<size_t>(event)].from[static_cast<size_t>(status)];
}

}  // namespace ferrule::order
