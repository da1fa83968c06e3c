// The fold of a unit's facts, one fact at a time; its parts are in custody.cc, assembly.cc and
// reprocessing.cc.
#pragma once

#include <cstdint>
#include <optional>
#include <string>
#include <string_view>

#include "core/depot/settings_book.h"
#include "core/fact/fact_view.h"
#include "core/finding/raise.h"
#include "core/unit/inspection.h"
#include "core/unit/lifecycle.h"
#include "core/unit/meter.h"
#include "ferrule/v1/facts.pb.h"
#include "ferrule/v1/states.pb.h"

namespace ferrule::unit {

// One fact on its way into one unit. First what it breaks is raised, then it takes effect: what has
// physically happened changes the state, however wrong it was.
class UnitFold {
 public:
  UnitFold(const fact::FactView& view, const depot::SettingsBook& book, finding::Raiser* raiser,
           v1::SubjectState* state)
      : view_(view), book_(book), raiser_(raiser), state_(state), unit_(state->mutable_unit()) {}

  void Apply();

 private:
  // One a kind of fact.
  void On(const v1::UnitReceived& f);
  void On(const v1::UnitMoved& f);
  void On(const v1::MeterRead& f);
  void On(const v1::MeterReplaced& f);
  void On(const v1::MeterRolledOver& f);
  void On(const v1::PartFitted& f);
  void On(const v1::PartRemoved& f);
  void On(const v1::HoldPlaced& f);
  void On(const v1::HoldLifted& f);
  void On(const v1::CleaningStarted& f);
  void On(const v1::CleaningFinished& f);
  void On(const v1::MemoryErased& f);
  void On(const v1::InspectionDone& f);
  void On(const v1::RepairOpened& f);
  void On(const v1::RepairClosed& f);
  void On(const v1::ServiceDone& f);
  void On(const v1::SideConfigured& f);
  void On(const v1::AliasNoted& f);
  void On(const v1::CleaningStepDone& f);
  void On(const v1::ContactNoted& f);
  void On(const v1::TreatmentDone& f);
  void On(const v1::ServiceDeferred& f);
  void On(const v1::TesterDoubted& f);
  void On(const v1::UnitMissing& f);
  void On(const v1::UnitFound& f);
  void On(const v1::UnitWrittenOff& f);
  void On(const v1::UnitHeldForOrder& f);
  void On(const v1::OrderHoldReleased& f);
  void On(const v1::HandedOver& f);
  void On(const v1::Exchanged& f);
  void On(const v1::CarriedOver& f);
  void On(const v1::PickedUp& f);
  void On(const v1::ReceivedBack& f);
  void On(const v1::TransferSent& f);
  void On(const v1::TransferReceived& f);
  void On(const v1::SealBroken& f);
  void On(const v1::PurposeChanged& f);

  // Moves all four axes by the tables; false when the unit was never received, which is then the
  // one thing that is raised.
  bool Take(Event event);
  // The stamps that a change of an axis moves with it.
  void RaiseOutOfPlace(v1::Reason reason);
  void RaiseCommitted(v1::Reason reason);
  std::string_view OrderNamed() const;
  void ForgetFailedCleaning();
  void ForgetSteps();
  void EnterHygiene(v1::Hygiene next, Event event);
  void EnterCommitment(v1::Commitment next, Event event);

  // Readiness and identity of a unit that goes out, then the hand-over itself.
  void GoOut(Event event, const std::string& order, const std::string& seen_model,
             v1::Side seen_side, std::optional<int64_t> meter_s);
  void ComeHome(Event event, const std::string& order, const std::string& place,
                std::optional<int64_t> meter_s);
  void PutAt(const std::string& place);
  void Return();
  void SetOut(const std::string& order);
  void LetLapse();
  void ArriveOtherwise();

  // What was seen at the dock against what went out and what was picked up.
  void CountAtDock(const v1::ReceivedBack& f);
  void CompareSerial(const v1::ReceivedBack& f);
  void CompareParts(const v1::ReceivedBack& f);
  void CompareAccessories(const v1::ReceivedBack& f);
  void MarkMissing(const std::string& position);

  void Void(v1::Reason because);
  void Fit(const std::string& part, const std::string& position);
  void Lack(const std::string& part, const std::string& position);
  void CheckPosition(const std::string& position);
  void KeepAsFound();
  absl::TimeZone ZoneHere();
  bool HasTaken(v1::CleaningStep step) const;
  v1::CleaningStep StepLackingBefore(v1::CleaningStep step);
  v1::Reason CleaningFault(const v1::CleaningFinished& f);
  v1::Reason ProductFault(const v1::CleaningFinished& f);
  v1::Reason StepFault(const v1::CleaningFinished& f);
  bool MayLift(const v1::Hold& hold, const v1::HoldLifted& f);
  v1::Reason RaiseInspectionFaults(const v1::InspectionDone& f, const Verdict& verdict);
  void CheckCause(const v1::RepairClosed& f);
  bool TesterOutOfDate(const v1::InspectionDone& f);
  void KeepInspection(const v1::InspectionDone& f, const Verdict& verdict, bool passed);

  void Raise(v1::Reason reason, finding::Values values = {}, finding::Evidence evidence = {}) {
    raiser_->Raise(reason, values, evidence);
  }
  void Stamp(v1::Stamp* stamp) { finding::SetStamp(view_, stamp); }
  const depot::Rules& rules() { return book_.At(view_.happened_us); }
  const v1::Model* model() { return rules().FindModel(unit_->model()); }
  MeterFold meter() { return MeterFold(view_, raiser_, unit_->mutable_meter()); }

  const fact::FactView& view_;
  const depot::SettingsBook& book_;
  finding::Raiser* raiser_;
  v1::SubjectState* state_;
  v1::UnitState* unit_;
};

}  // namespace ferrule::unit
