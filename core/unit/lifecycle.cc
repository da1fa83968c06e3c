#include "core/unit/lifecycle.h"

#include <array>
#include <cstddef>

namespace ferrule::unit {
namespace {

// One row of a table: where the event leads from each state of the axis.
template <typename State, size_t kStates>
struct Row {
  Event event;
  std::array<Step<State>, kStates> from;
};
template <typename State, size_t kStates>
using Table = std::array<Row<State, kStates>, kEventCount>;

template <typename State, size_t kStates>
constexpr bool RowsInOrder(const Table<State, kStates>& table) {
  for (size_t i = 0; i < table.size(); ++i) {
    if (table[i].event != static_cast<Event>(i)) return false;
  }
  return true;
}

template <typename State, size_t kStates>
Step<State> Look(const Table<State, kStates>& table, State state, Event event) {
  return table[static_cast<size_t>(event)].from[static_cast<size_t>(state)];
}

// Custody. Columns: at a place, at a home, unaccounted for, left the fleet.
constexpr auto kPlace = v1::CUSTODY_PLACE;
constexpr auto kHome = v1::CUSTODY_HOME;
constexpr auto kGone = v1::CUSTODY_UNACCOUNTED;
constexpr auto kLeft = v1::CUSTODY_LEFT_FLEET;
using CustodyStep = Step<v1::Custody>;
using CustodyRow = Row<v1::Custody, 5>;

constexpr CustodyRow Custody(Event event, CustodyStep place, CustodyStep home, CustodyStep gone,
                             CustodyStep left) {
  return {event, {{{v1::CUSTODY_UNSPECIFIED, v1::REASON_UNIT_UNKNOWN}, place, home, gone, left}}};
}
// Says nothing about where the unit is.
constexpr CustodyRow Anywhere(Event event) {
  return Custody(event, {kPlace}, {kHome}, {kGone}, {kLeft});
}
// Can only be done to a unit that is at hand, at a place or at a home.
constexpr CustodyRow AtHand(Event event) {
  return Custody(event, {kPlace}, {kHome}, {kGone, v1::REASON_UNACCOUNTED},
                 {kLeft, v1::REASON_LEFT_FLEET});
}
// Can only be done in the depot.
constexpr CustodyRow InHouse(Event event) {
  return Custody(event, {kPlace}, {kHome, v1::REASON_AT_HOME}, {kGone, v1::REASON_UNACCOUNTED},
                 {kLeft, v1::REASON_LEFT_FLEET});
}
// Leaves one home for a place.
constexpr CustodyRow FromHome(Event event) {
  return Custody(event, {kPlace, v1::REASON_NOT_AT_THAT_HOME}, {kPlace},
                 {kPlace, v1::REASON_UNACCOUNTED}, {kPlace, v1::REASON_LEFT_FLEET});
}

constexpr Table<v1::Custody, 5> kCustody = {{
    {Event::kReceived,
     {{{kPlace},
       {kPlace, v1::REASON_UNIT_TAG_IN_USE},
       {kHome, v1::REASON_UNIT_TAG_IN_USE},
       {kGone, v1::REASON_UNIT_TAG_IN_USE},
       {kLeft, v1::REASON_UNIT_TAG_IN_USE}}}},
    Custody(Event::kMoved, {kPlace}, {kPlace, v1::REASON_AT_HOME}, {kPlace, v1::REASON_UNACCOUNTED},
            {kPlace, v1::REASON_LEFT_FLEET}),
    Anywhere(Event::kPutInCleanPlace),
    Anywhere(Event::kPutInSoiledPlace),
    AtHand(Event::kMeterRead),
    InHouse(Event::kMeterReplaced),
    AtHand(Event::kMeterRolledOver),
    AtHand(Event::kPartFitted),
    AtHand(Event::kPartRemoved),
    Anywhere(Event::kHoldPlaced),
    Anywhere(Event::kContaminationFound),
    Anywhere(Event::kHoldLifted),
    InHouse(Event::kCleaningStarted),
    InHouse(Event::kCleaned),
    InHouse(Event::kCleaningFailed),
    InHouse(Event::kMemoryErased),
    InHouse(Event::kInspectionPassed),
    InHouse(Event::kInspectionFailed),
    InHouse(Event::kInspectionVoid),
    InHouse(Event::kRepairOpened),
    InHouse(Event::kRepairClosed),
    AtHand(Event::kServiceDone),
    AtHand(Event::kSideConfigured),
    Anywhere(Event::kAliasNoted),
    InHouse(Event::kCleaningStepDone),
    InHouse(Event::kContactNoted),
    InHouse(Event::kTreated),
    Anywhere(Event::kServiceDeferred),
    Anywhere(Event::kTesterDoubted),
    Custody(Event::kMissing, {kGone}, {kGone}, {kGone, v1::REASON_UNACCOUNTED},
            {kLeft, v1::REASON_LEFT_FLEET}),
    Custody(Event::kFound, {kPlace, v1::REASON_NOT_MISSING}, {kPlace, v1::REASON_AT_HOME}, {kPlace},
            {kPlace}),
    Custody(Event::kWrittenOff, {kLeft}, {kLeft}, {kLeft}, {kLeft, v1::REASON_LEFT_FLEET}),
    AtHand(Event::kHeldForOrder),
    AtHand(Event::kHeldAgain),
    Anywhere(Event::kHoldReleased),
    Anywhere(Event::kOtherHoldReleased),
    Custody(Event::kHandedOver, {kHome}, {kHome}, {kHome}, {kHome}),
    Custody(Event::kExchangedIn, {kHome}, {kHome}, {kHome}, {kHome}),
    FromHome(Event::kExchangedOut),
    Custody(Event::kCarriedOver, {kHome, v1::REASON_NOT_AT_THAT_HOME}, {kHome},
            {kHome, v1::REASON_UNACCOUNTED}, {kHome, v1::REASON_LEFT_FLEET}),
    FromHome(Event::kPickedUp),
    Custody(Event::kReceivedBack, {kPlace}, {kPlace, v1::REASON_NOT_PICKED_UP},
            {kPlace, v1::REASON_UNACCOUNTED}, {kPlace, v1::REASON_LEFT_FLEET}),
    // A unit that is with another patient can be promised for when it is back.
    AtHand(Event::kPromised),
    Anywhere(Event::kPromiseReleased),
    Custody(Event::kTransferSent, {kPlace}, {kPlace, v1::REASON_AT_HOME},
            {kPlace, v1::REASON_UNACCOUNTED}, {kPlace, v1::REASON_LEFT_FLEET}),
    Custody(Event::kTransferReceived, {kPlace}, {kPlace, v1::REASON_AT_HOME},
            {kPlace, v1::REASON_UNACCOUNTED}, {kPlace, v1::REASON_LEFT_FLEET}),
    Anywhere(Event::kSealBroken),
    Anywhere(Event::kPurposeChanged),
}};
static_assert(RowsInOrder(kCustody));

// Hygiene. Columns: soiled, being cleaned, cleaned. The order of the steps is that of ISO
// 17664-2:2021 (scope): cleaning, disinfection, drying, then inspection, then storage.
constexpr auto kSoiled = v1::HYGIENE_SOILED;
constexpr auto kCleaning = v1::HYGIENE_CLEANING;
constexpr auto kCleaned = v1::HYGIENE_CLEANED;
using HygieneStep = Step<v1::Hygiene>;
using HygieneRow = Row<v1::Hygiene, 4>;

constexpr HygieneRow Hygiene(Event event, HygieneStep soiled, HygieneStep cleaning,
                             HygieneStep cleaned) {
  return {event, {{{v1::HYGIENE_UNSPECIFIED, v1::REASON_UNIT_UNKNOWN}, soiled, cleaning, cleaned}}};
}
constexpr HygieneRow Untouched(Event event) {
  return Hygiene(event, {kSoiled}, {kCleaning}, {kCleaned});
}
constexpr HygieneRow Soils(Event event) { return Hygiene(event, {kSoiled}, {kSoiled}, {kSoiled}); }
constexpr HygieneRow OnCleanUnit(Event event) {
  return Hygiene(event, {kSoiled, v1::REASON_NOT_CLEANED}, {kCleaning, v1::REASON_NOT_CLEANED},
                 {kCleaned});
}

constexpr Table<v1::Hygiene, 4> kHygiene = {{
    {Event::kReceived, {{{kSoiled}, {kSoiled}, {kCleaning}, {kCleaned}}}},
    Untouched(Event::kMoved),
    Hygiene(Event::kPutInCleanPlace, {kSoiled, v1::REASON_SOILED_INTO_CLEAN_PLACE},
            {kCleaning, v1::REASON_SOILED_INTO_CLEAN_PLACE}, {kCleaned}),
    Hygiene(Event::kPutInSoiledPlace, {kSoiled}, {kCleaning}, {kSoiled}),
    Untouched(Event::kMeterRead),
    Untouched(Event::kMeterReplaced),
    Untouched(Event::kMeterRolledOver),
    Untouched(Event::kPartFitted),
    Untouched(Event::kPartRemoved),
    Untouched(Event::kHoldPlaced),
    Soils(Event::kContaminationFound),
    Untouched(Event::kHoldLifted),
    Hygiene(Event::kCleaningStarted, {kCleaning}, {kCleaning}, {kCleaning}),
    Hygiene(Event::kCleaned, {kCleaned}, {kCleaned}, {kCleaned}),
    Soils(Event::kCleaningFailed),
    Untouched(Event::kMemoryErased),
    OnCleanUnit(Event::kInspectionPassed),
    OnCleanUnit(Event::kInspectionFailed),
    OnCleanUnit(Event::kInspectionVoid),
    Untouched(Event::kRepairOpened),
    Untouched(Event::kRepairClosed),
    Untouched(Event::kServiceDone),
    Untouched(Event::kSideConfigured),
    Untouched(Event::kAliasNoted),
    Hygiene(Event::kCleaningStepDone, {kCleaning}, {kCleaning}, {kCleaned}),
    Soils(Event::kContactNoted),
    Untouched(Event::kTreated),
    Untouched(Event::kServiceDeferred),
    Untouched(Event::kTesterDoubted),
    Untouched(Event::kMissing),
    Soils(Event::kFound),
    Untouched(Event::kWrittenOff),
    Untouched(Event::kHeldForOrder),
    Untouched(Event::kHeldAgain),
    Untouched(Event::kHoldReleased),
    Untouched(Event::kOtherHoldReleased),
    Soils(Event::kHandedOver),
    Soils(Event::kExchangedIn),
    Soils(Event::kExchangedOut),
    Soils(Event::kCarriedOver),
    Soils(Event::kPickedUp),
    Soils(Event::kReceivedBack),
    Untouched(Event::kPromised),
    Untouched(Event::kPromiseReleased),
    Untouched(Event::kTransferSent),
    Untouched(Event::kTransferReceived),
    Soils(Event::kSealBroken),
    Untouched(Event::kPurposeChanged),
}};
static_assert(RowsInOrder(kHygiene));

// Condition. Columns: untested, passed, failed, under repair. A failed unit stays failed until it
// passes: a return or a changed part does not make it any better known.
constexpr auto kUntested = v1::CONDITION_UNTESTED;
constexpr auto kPassed = v1::CONDITION_PASSED;
constexpr auto kFailed = v1::CONDITION_FAILED;
constexpr auto kRepair = v1::CONDITION_UNDER_REPAIR;
using ConditionStep = Step<v1::Condition>;
using ConditionRow = Row<v1::Condition, 5>;

constexpr ConditionRow Condition(Event event, ConditionStep untested, ConditionStep passed,
                                 ConditionStep failed, ConditionStep repair) {
  return {
      event,
      {{{v1::CONDITION_UNSPECIFIED, v1::REASON_UNIT_UNKNOWN}, untested, passed, failed, repair}}};
}
constexpr ConditionRow Unproved(Event event) {
  return Condition(event, {kUntested}, {kPassed}, {kFailed}, {kRepair});
}
constexpr ConditionRow VoidsPass(Event event) {
  return Condition(event, {kUntested}, {kUntested}, {kFailed}, {kRepair});
}

constexpr Table<v1::Condition, 5> kCondition = {{
    {Event::kReceived, {{{kUntested}, {kUntested}, {kPassed}, {kFailed}, {kRepair}}}},
    Unproved(Event::kMoved),
    Unproved(Event::kPutInCleanPlace),
    Unproved(Event::kPutInSoiledPlace),
    Unproved(Event::kMeterRead),
    Unproved(Event::kMeterReplaced),
    Unproved(Event::kMeterRolledOver),
    VoidsPass(Event::kPartFitted),
    VoidsPass(Event::kPartRemoved),
    Unproved(Event::kHoldPlaced),
    Unproved(Event::kContaminationFound),
    Unproved(Event::kHoldLifted),
    Unproved(Event::kCleaningStarted),
    Unproved(Event::kCleaned),
    Unproved(Event::kCleaningFailed),
    Unproved(Event::kMemoryErased),
    Condition(Event::kInspectionPassed, {kPassed}, {kPassed}, {kPassed},
              {kRepair, v1::REASON_UNDER_REPAIR}),
    Condition(Event::kInspectionFailed, {kFailed}, {kFailed}, {kFailed},
              {kRepair, v1::REASON_UNDER_REPAIR}),
    Condition(Event::kInspectionVoid, {kUntested}, {kUntested}, {kFailed},
              {kRepair, v1::REASON_UNDER_REPAIR}),
    Condition(Event::kRepairOpened, {kRepair}, {kRepair}, {kRepair},
              {kRepair, v1::REASON_UNDER_REPAIR}),
    Condition(Event::kRepairClosed, {kUntested, v1::REASON_NO_REPAIR_OPEN},
              {kUntested, v1::REASON_NO_REPAIR_OPEN}, {kUntested, v1::REASON_NO_REPAIR_OPEN},
              {kUntested}),
    Unproved(Event::kServiceDone),
    Unproved(Event::kSideConfigured),
    Unproved(Event::kAliasNoted),
    Unproved(Event::kCleaningStepDone),
    Unproved(Event::kContactNoted),
    Unproved(Event::kTreated),
    Unproved(Event::kServiceDeferred),
    VoidsPass(Event::kTesterDoubted),
    Unproved(Event::kMissing),
    VoidsPass(Event::kFound),
    Unproved(Event::kWrittenOff),
    Unproved(Event::kHeldForOrder),
    Unproved(Event::kHeldAgain),
    Unproved(Event::kHoldReleased),
    Unproved(Event::kOtherHoldReleased),
    Unproved(Event::kHandedOver),
    Unproved(Event::kExchangedIn),
    VoidsPass(Event::kExchangedOut),
    Unproved(Event::kCarriedOver),
    VoidsPass(Event::kPickedUp),
    VoidsPass(Event::kReceivedBack),
    Unproved(Event::kPromised),
    Unproved(Event::kPromiseReleased),
    Unproved(Event::kTransferSent),
    Unproved(Event::kTransferReceived),
    Unproved(Event::kSealBroken),
    Unproved(Event::kPurposeChanged),
}};
static_assert(RowsInOrder(kCondition));

// Commitment. Columns: free, held, on rent, written off.
constexpr auto kFree = v1::COMMITMENT_FREE;
constexpr auto kHeld = v1::COMMITMENT_HELD;
constexpr auto kRent = v1::COMMITMENT_ON_RENT;
constexpr auto kOff = v1::COMMITMENT_WRITTEN_OFF;
using CommitmentStep = Step<v1::Commitment>;
using CommitmentRow = Row<v1::Commitment, 5>;

constexpr CommitmentRow Commitment(Event event, CommitmentStep free, CommitmentStep held,
                                   CommitmentStep rent, CommitmentStep off) {
  return {event, {{{v1::COMMITMENT_UNSPECIFIED, v1::REASON_UNIT_UNKNOWN}, free, held, rent, off}}};
}
constexpr CommitmentRow Uncommitted(Event event) {
  return Commitment(event, {kFree}, {kHeld}, {kRent}, {kOff});
}
constexpr CommitmentRow BeginsRent(Event event) {
  return Commitment(event, {kRent}, {kRent}, {kRent}, {kRent});
}
constexpr CommitmentRow EndsRent(Event event) {
  return Commitment(event, {kFree}, {kHeld}, {kFree}, {kOff});
}

constexpr Table<v1::Commitment, 5> kCommitment = {{
    {Event::kReceived, {{{kFree}, {kFree}, {kHeld}, {kRent}, {kOff}}}},
    Uncommitted(Event::kMoved),
    Uncommitted(Event::kPutInCleanPlace),
    Uncommitted(Event::kPutInSoiledPlace),
    Uncommitted(Event::kMeterRead),
    Uncommitted(Event::kMeterReplaced),
    Uncommitted(Event::kMeterRolledOver),
    Uncommitted(Event::kPartFitted),
    Uncommitted(Event::kPartRemoved),
    Uncommitted(Event::kHoldPlaced),
    Uncommitted(Event::kContaminationFound),
    Uncommitted(Event::kHoldLifted),
    Uncommitted(Event::kCleaningStarted),
    Uncommitted(Event::kCleaned),
    Uncommitted(Event::kCleaningFailed),
    Uncommitted(Event::kMemoryErased),
    Uncommitted(Event::kInspectionPassed),
    Uncommitted(Event::kInspectionFailed),
    Uncommitted(Event::kInspectionVoid),
    Uncommitted(Event::kRepairOpened),
    Uncommitted(Event::kRepairClosed),
    Uncommitted(Event::kServiceDone),
    Uncommitted(Event::kSideConfigured),
    Uncommitted(Event::kAliasNoted),
    Uncommitted(Event::kCleaningStepDone),
    Uncommitted(Event::kContactNoted),
    Uncommitted(Event::kTreated),
    Uncommitted(Event::kServiceDeferred),
    Uncommitted(Event::kTesterDoubted),
    Uncommitted(Event::kMissing),
    Commitment(Event::kFound, {kFree}, {kHeld}, {kFree}, {kFree}),
    Commitment(Event::kWrittenOff, {kOff}, {kOff, v1::REASON_COMMITTED_TO_OTHER_ORDER},
               {kOff, v1::REASON_ON_RENT}, {kOff}),
    Commitment(Event::kHeldForOrder, {kHeld}, {kHeld, v1::REASON_COMMITTED_TO_OTHER_ORDER},
               {kRent, v1::REASON_ON_RENT}, {kOff, v1::REASON_LEFT_FLEET}),
    Commitment(Event::kHeldAgain, {kHeld}, {kHeld}, {kRent, v1::REASON_ON_RENT},
               {kOff, v1::REASON_LEFT_FLEET}),
    Commitment(Event::kHoldReleased, {kFree, v1::REASON_NOT_HELD_FOR_ORDER}, {kFree},
               {kRent, v1::REASON_NOT_HELD_FOR_ORDER}, {kOff, v1::REASON_NOT_HELD_FOR_ORDER}),
    Commitment(Event::kOtherHoldReleased, {kFree, v1::REASON_NOT_HELD_FOR_ORDER},
               {kHeld, v1::REASON_NOT_HELD_FOR_ORDER}, {kRent, v1::REASON_NOT_HELD_FOR_ORDER},
               {kOff, v1::REASON_NOT_HELD_FOR_ORDER}),
    BeginsRent(Event::kHandedOver),
    BeginsRent(Event::kExchangedIn),
    EndsRent(Event::kExchangedOut),
    BeginsRent(Event::kCarriedOver),
    EndsRent(Event::kPickedUp),
    EndsRent(Event::kReceivedBack),
    // Days to come stand beside the present commitment.
    Uncommitted(Event::kPromised),
    Uncommitted(Event::kPromiseReleased),
    Uncommitted(Event::kTransferSent),
    EndsRent(Event::kTransferReceived),
    Uncommitted(Event::kSealBroken),
    Uncommitted(Event::kPurposeChanged),
}};
static_assert(RowsInOrder(kCommitment));

}  // namespace

Step<v1::Custody> CustodyAfter(v1::Custody state, Event event) {
  return Look(kCustody, state, event);
}
Step<v1::Hygiene> HygieneAfter(v1::Hygiene state, Event event) {
  return Look(kHygiene, state, event);
}
Step<v1::Condition> ConditionAfter(v1::Condition state, Event event) {
  return Look(kCondition, state, event);
}
Step<v1::Commitment> CommitmentAfter(v1::Commitment state, Event event) {
  return Look(kCommitment, state, event);
}

}  // namespace ferrule::unit
