// The life cycle of a unit as data: one table an axis, (state, event) to next state, with the rule
// that is broken when the event is out of place. tests/core/unit/data/lifecycle_cases.txt is the
// same in words, one case a line.
//
// What has physically happened changes the state even when it is out of place: a unit that was
// handed over is at a home, however wrong that was. Whether a unit may go out is not judged here
// but by ready.h, so going out carries no reason in these tables.
#pragma once

#include <cstdint>

#include "ferrule/v1/findings.pb.h"
#include "ferrule/v1/states.pb.h"

namespace ferrule::unit {

// What a fact means to one unit. Most kinds of fact are one event; some are several, told apart by
// what the fact says.
enum class Event : uint8_t {
  kReceived,
  kMoved,
  kPutInCleanPlace,   // after the event that brought it there
  kPutInSoiledPlace,  // after the event that brought it there
  kMeterRead,
  kMeterReplaced,
  kMeterRolledOver,
  kPartFitted,
  kPartRemoved,
  kHoldPlaced,
  kContaminationFound,  // a hold for body fluid or insects
  kHoldLifted,
  kCleaningStarted,
  kCleaned,         // finished, in date, wet for the contact time
  kCleaningFailed,  // finished, but does not count
  kMemoryErased,
  kInspectionPassed,
  kInspectionFailed,
  kInspectionVoid,  // not clean, wrong checklist or version, or a reading missing
  kRepairOpened,
  kRepairClosed,
  kServiceDone,
  kSideConfigured,
  kAliasNoted,
  kCleaningStepDone,
  kContactNoted,
  kTreated,
  kServiceDeferred,
  kTesterDoubted,  // of the tester whose pass stands
  kMissing,
  kFound,
  kWrittenOff,
  kHeldForOrder,
  kHeldAgain,          // for the order that holds it already
  kHoldReleased,       // of the order that holds it
  kOtherHoldReleased,  // of an order that does not hold it
  kHandedOver,
  kExchangedIn,
  kExchangedOut,
  kCarriedOver,  // stays at the home, under another order
  kPickedUp,
  kReceivedBack,
  kPromised,         // for days to come
  kPromiseReleased,  // of days to come
  kTransferSent,
  kTransferReceived,
  kSealBroken,
  kPurposeChanged,
};
inline constexpr int kEventCount = static_cast<int>(Event::kPurposeChanged) + 1;

// Where an event leads on one axis, and the rule that it breaks there, if any.
template <typename State>
struct Step {
  State next;
  v1::Reason reason = v1::REASON_UNSPECIFIED;
};

// The tables. In the state 0, never received, every event but the receipt breaks UNIT_UNKNOWN and
// changes nothing.
Step<v1::Custody> CustodyAfter(v1::Custody state, Event event);
Step<v1::Hygiene> HygieneAfter(v1::Hygiene state, Event event);
Step<v1::Condition> ConditionAfter(v1::Condition state, Event event);
Step<v1::Commitment> CommitmentAfter(v1::Commitment state, Event event);

}  // namespace ferrule::unit
