#include "core/unit/fold.h"

#include "core/unit/commitment.h"
#include "core/unit/unit_fold.h"

namespace ferrule::unit {

void UnitFold::Apply() {
  const v1::Fact& fact = view_.fact();
  if (fact.what_case() != v1::Fact::kOrderHoldReleased) LetLapse();
  LetPromisesLapse();
  switch (fact.what_case()) {
    case v1::Fact::kUnitReceived:
      return On(fact.unit_received());
    case v1::Fact::kUnitMoved:
      return On(fact.unit_moved());
    case v1::Fact::kMeterRead:
      return On(fact.meter_read());
    case v1::Fact::kMeterReplaced:
      return On(fact.meter_replaced());
    case v1::Fact::kMeterRolledOver:
      return On(fact.meter_rolled_over());
    case v1::Fact::kPartFitted:
      return On(fact.part_fitted());
    case v1::Fact::kPartRemoved:
      return On(fact.part_removed());
    case v1::Fact::kHoldPlaced:
      return On(fact.hold_placed());
    case v1::Fact::kHoldLifted:
      return On(fact.hold_lifted());
    case v1::Fact::kCleaningStarted:
      return On(fact.cleaning_started());
    case v1::Fact::kCleaningFinished:
      return On(fact.cleaning_finished());
    case v1::Fact::kMemoryErased:
      return On(fact.memory_erased());
    case v1::Fact::kInspectionDone:
      return On(fact.inspection_done());
    case v1::Fact::kRepairOpened:
      return On(fact.repair_opened());
    case v1::Fact::kRepairClosed:
      return On(fact.repair_closed());
    case v1::Fact::kServiceDone:
      return On(fact.service_done());
    case v1::Fact::kSideConfigured:
      return On(fact.side_configured());
    case v1::Fact::kAliasNoted:
      return On(fact.alias_noted());
    case v1::Fact::kCleaningStepDone:
      return On(fact.cleaning_step_done());
    case v1::Fact::kContactNoted:
      return On(fact.contact_noted());
    case v1::Fact::kTreatmentDone:
      return On(fact.treatment_done());
    case v1::Fact::kServiceDeferred:
      return On(fact.service_deferred());
    case v1::Fact::kTesterDoubted:
      return On(fact.tester_doubted());
    case v1::Fact::kUnitMissing:
      return On(fact.unit_missing());
    case v1::Fact::kUnitFound:
      return On(fact.unit_found());
    case v1::Fact::kUnitWrittenOff:
      return On(fact.unit_written_off());
    case v1::Fact::kUnitHeldForOrder:
      return On(fact.unit_held_for_order());
    case v1::Fact::kOrderHoldReleased:
      return On(fact.order_hold_released());
    case v1::Fact::kHandedOver:
      return On(fact.handed_over());
    case v1::Fact::kExchanged:
      return On(fact.exchanged());
    case v1::Fact::kCarriedOver:
      return On(fact.carried_over());
    case v1::Fact::kPickedUp:
      return On(fact.picked_up());
    case v1::Fact::kReceivedBack:
      return On(fact.received_back());
    case v1::Fact::kUnitPromised:
      return On(fact.unit_promised());
    case v1::Fact::kTransferSent:
      return On(fact.transfer_sent());
    case v1::Fact::kTransferReceived:
      return On(fact.transfer_received());
    case v1::Fact::kSealBroken:
      return On(fact.seal_broken());
    case v1::Fact::kPurposeChanged:
      return On(fact.purpose_changed());
    // Not about a unit. Listed, so that the compiler asks about a new kind.
    case v1::Fact::kTesterCalibrated:
    case v1::Fact::kStockReceived:
    case v1::Fact::kStockMoved:
    case v1::Fact::kStockIssued:
    case v1::Fact::kStockReturned:
    case v1::Fact::kStockDiscarded:
    case v1::Fact::kStockAdjusted:
    case v1::Fact::kClosetUseReported:
    case v1::Fact::kClosetUseSettled:
    case v1::Fact::kCountOpened:
    case v1::Fact::kCountTallied:
    case v1::Fact::kCountClosed:
    case v1::Fact::kRecallOpened:
    case v1::Fact::kRecallClosed:
    case v1::Fact::kOrderTaken:
    case v1::Fact::kOrderChanged:
    case v1::Fact::kOrderCancelled:
    case v1::Fact::kOrderExtended:
    case v1::Fact::kPickupAgreed:
    case v1::Fact::kPickupFailed:
    case v1::Fact::kOrderMessageReceived:
    case v1::Fact::kForecastNoted:
    case v1::Fact::kOrderReinstated:
    case v1::Fact::kDetailsConfirmed:
    case v1::Fact::kAuthorisationNoted:
    case v1::Fact::kPatientStayNoted:
    case v1::Fact::kOrderStopped:
    case v1::Fact::kUseNoted:
    case v1::Fact::kDaysBilled:
    case v1::Fact::kUsageReported:
    case v1::Fact::kMotionChanged:
    case v1::Fact::kWaitingNoted:
    case v1::Fact::kPromiseRefused:
    case v1::Fact::kSetUpDone:
    case v1::Fact::kTicketReturned:
    case v1::Fact::kCallMade:
    case v1::Fact::kPrecautionsNoted:
    case v1::Fact::kBreakdownReported:
    case v1::Fact::kBreakdownSettled:
    case v1::Fact::kComplaintReceived:
    case v1::Fact::kComplaintAnswered:
    case v1::Fact::kComplaintClosed:
    case v1::Fact::kRecordsHeld:
    case v1::Fact::kRecordsReleased:
    case v1::Fact::kRecordsDisclosed:
    case v1::Fact::kSettingsPut:
    // Taken care of for every kind of subject, in core/fold.
    case v1::Fact::kReversal:
    case v1::Fact::kQuestionAnswered:
    case v1::Fact::kRecallOutcomeNoted:
    case v1::Fact::WHAT_NOT_SET:
      return;
  }
}

bool UnitFold::Take(Event event) {
  const auto custody = CustodyAfter(unit_->custody(), event);
  if (custody.reason == v1::REASON_UNIT_UNKNOWN) {
    Raise(v1::REASON_UNIT_UNKNOWN, {{"unit", unit_->unit()}});
    return false;
  }
  const auto hygiene = HygieneAfter(unit_->hygiene(), event);
  const auto condition = ConditionAfter(unit_->condition(), event);
  const auto commitment = CommitmentAfter(unit_->commitment(), event);
  if (custody.reason != v1::REASON_UNSPECIFIED) RaiseOutOfPlace(custody.reason);
  if (hygiene.reason != v1::REASON_UNSPECIFIED) {
    Raise(hygiene.reason, {{"place", unit_->place()}}, {&unit_->soiled(), &unit_->cleaned()});
  }
  if (condition.reason != v1::REASON_UNSPECIFIED) {
    Raise(condition.reason, {}, {&unit_->repair().opened()});
  }
  if (commitment.reason != v1::REASON_UNSPECIFIED && commitment.reason != custody.reason) {
    RaiseCommitted(commitment.reason);
  }
  if (unit_->custody() != custody.next) Stamp(unit_->mutable_custody_since());
  unit_->set_custody(custody.next);
  if (custody.next != v1::CUSTODY_PLACE) {
    unit_->clear_transfer();
    unit_->clear_transfer_sent();
  }
  EnterHygiene(hygiene.next, event);
  unit_->set_condition(condition.next);
  EnterCommitment(commitment.next, event);
  return true;
}

// A rule that custody breaks, with where the records have the unit.
void UnitFold::RaiseOutOfPlace(v1::Reason reason) {
  switch (reason) {
    case v1::REASON_UNIT_TAG_IN_USE:
      return Raise(reason, {{"place", unit_->place()}}, {&unit_->received()});
    case v1::REASON_NOT_AT_THAT_HOME:
      return Raise(reason, {{"expected", OrderNamed()}, {"place", unit_->place()}},
                   {&unit_->custody_since()});
    case v1::REASON_NOT_MISSING:
      return Raise(reason, {{"place", unit_->place()}}, {&unit_->custody_since()});
    default:
      return Raise(reason, {{"place", unit_->place()}, {"order", unit_->order()}},
                   {&unit_->custody_since()});
  }
}

// A rule that commitment breaks. The tables know one kind of hold; a firm one binds more.
void UnitFold::RaiseCommitted(v1::Reason reason) {
  const bool other = reason == v1::REASON_NOT_HELD_FOR_ORDER;
  if (reason == v1::REASON_COMMITTED_TO_OTHER_ORDER && unit_->hold_firm()) {
    reason = v1::REASON_FIRMLY_PROMISED;
  }
  if (other) return Raise(reason, {{"order", OrderNamed()}}, {&unit_->commitment_since()});
  const std::string until = unit_->has_hold_until_time()
                                ? time::FormatUtc(time::ToMicros(unit_->hold_until_time()))
                                : std::string();
  Raise(reason, {{"order", unit_->order()}, {"until", until}}, {&unit_->commitment_since()});
}

// The order that the fact names, if it names one.
std::string_view UnitFold::OrderNamed() const {
  const v1::Fact& fact = view_.fact();
  if (fact.has_picked_up()) return fact.picked_up().order();
  if (fact.has_exchanged()) return fact.exchanged().order();
  if (fact.has_unit_held_for_order()) return fact.unit_held_for_order().order();
  if (fact.has_order_hold_released()) return fact.order_hold_released().order();
  return {};
}

void UnitFold::ForgetFailedCleaning() {
  unit_->clear_cleaning_failed_because();
  unit_->clear_cleaning_failed();
  unit_->clear_cleaning_failed_product();
}

// The unit became soiled anew: steps of cleaning done before, and what soiled it then, are past.
void UnitFold::ForgetSteps() {
  unit_->clear_cleaning_steps();
  unit_->clear_cleaning_started();
  unit_->clear_contact();
}

void UnitFold::EnterHygiene(v1::Hygiene next, Event event) {
  if (event == Event::kCleaned) {
    Stamp(unit_->mutable_cleaned());
    ForgetFailedCleaning();
  } else if (next == v1::HYGIENE_SOILED && unit_->hygiene() != v1::HYGIENE_SOILED &&
             event != Event::kCleaningFailed) {
    Stamp(unit_->mutable_soiled());
    unit_->clear_seal();
    ForgetFailedCleaning();
    ForgetSteps();
  }
  unit_->set_hygiene(next);
}

void UnitFold::EnterCommitment(v1::Commitment next, Event event) {
  const bool held_anew = event == Event::kHeldForOrder || event == Event::kHeldAgain;
  const bool rented_anew = event == Event::kHandedOver || event == Event::kExchangedIn;
  if (next == unit_->commitment() && !held_anew && !rented_anew) return;
  unit_->set_commitment(next);
  Stamp(unit_->mutable_commitment_since());
  if (next != v1::COMMITMENT_HELD) {
    unit_->clear_hold_firm();
    unit_->clear_hold_until_time();
  }
  if (next == v1::COMMITMENT_FREE || next == v1::COMMITMENT_WRITTEN_OFF) unit_->clear_order();
}

// A hold for an order that has lapsed no longer binds.
void UnitFold::LetLapse() {
  if (!HoldLapsed(*unit_, view_.happened_us)) return;
  unit_->set_commitment(v1::COMMITMENT_FREE);
  unit_->clear_order();
  unit_->clear_hold_firm();
  unit_->clear_hold_until_time();
  unit_->clear_commitment_since();
}

void UnitFold::PutAt(const std::string& place) {
  ArriveOtherwise();
  unit_->set_place(place);
  Stamp(unit_->mutable_custody_since());
  const v1::Place* known = rules().FindPlace(place);
  if (known == nullptr) return Raise(v1::REASON_PLACE_UNKNOWN, {{"place", place}});
  if (depot::IsCleanPlace(known->kind())) {
    Take(Event::kPutInCleanPlace);
  } else if (known->kind() == v1::PLACE_KIND_DOCK || known->kind() == v1::PLACE_KIND_CLEANING_BAY ||
             known->kind() == v1::PLACE_KIND_VAN_DIRTY) {
    Take(Event::kPutInSoiledPlace);
  }
}

// Back from a patient, or from nobody knows where: soiled, its memory full, its pass void.
void UnitFold::Return() {
  Stamp(unit_->mutable_soiled());
  unit_->clear_seal();
  ForgetFailedCleaning();
  ForgetSteps();
  Stamp(unit_->mutable_returned());
  unit_->set_erased_since_return(false);
  unit_->set_untested_because(v1::REASON_NOT_INSPECTED_SINCE_RETURN);
  Stamp(unit_->mutable_untested_since());
}

void Apply(const fact::FactView& view, const depot::SettingsBook& book, finding::Raiser* raiser,
           v1::SubjectState* state) {
  UnitFold(view, book, raiser, state).Apply();
}

}  // namespace ferrule::unit
