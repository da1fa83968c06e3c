// Cleaning, contact and treatment: what makes a unit clean, what soils it again, and what ends a
// quarantine.
#include <algorithm>
#include <array>
#include <string>

#include "core/finding/enum_words.h"
#include "core/time/civil.h"
#include "core/unit/unit_fold.h"

namespace ferrule::unit {
namespace {

constexpr int64_t kMicrosPerSecond = 1'000'000;

// The steps in their order: ISO 17664-2:2021, scope (preparation, cleaning, disinfection, drying).
constexpr std::array kSteps = {v1::CLEANING_STEP_PREPARATION, v1::CLEANING_STEP_WASHING,
                               v1::CLEANING_STEP_DISINFECTION, v1::CLEANING_STEP_DRYING};

// The hold that a treatment works against.
v1::HoldKind HoldAgainst(v1::Contaminant against) {
  switch (against) {
    case v1::CONTAMINANT_INSECTS:
      return v1::HOLD_KIND_INFESTATION;
    case v1::CONTAMINANT_BODY_FLUID:
      return v1::HOLD_KIND_CONTAMINATION;
    default:
      return v1::HOLD_KIND_UNSPECIFIED;
  }
}

bool IsContamination(v1::HoldKind kind) {
  return kind == v1::HOLD_KIND_CONTAMINATION || kind == v1::HOLD_KIND_INFESTATION;
}

const v1::Treatment* FindTreatment(const depot::Rules& rules, const std::string& id) {
  for (const v1::Treatment& treatment : rules.settings().treatments()) {
    if (treatment.id() == id) return &treatment;
  }
  return nullptr;
}

struct Shortfall {
  std::string found;
  std::string limit;
};

std::string Minutes(int64_t us) { return std::to_string(us / (60 * kMicrosPerSecond)) + " min"; }

// What a treatment lacks; empty when it counts. A figure equal to the settings' counts.
Shortfall Lacking(const v1::TreatmentDone& f, const v1::Treatment& treatment) {
  if (treatment.has_min_temperature_c() &&
      !(f.has_temperature_c() && f.temperature_c() >= treatment.min_temperature_c())) {
    return {f.has_temperature_c() ? NumberText(f.temperature_c()) + " deg C" : "no temperature",
            NumberText(treatment.min_temperature_c()) + " deg C"};
  }
  const int64_t kept_us = time::ToMicros(f.to_time()) - time::ToMicros(f.from_time());
  const int64_t wanted_us = treatment.min_dwell_s() * kMicrosPerSecond;
  if (kept_us < wanted_us) return {Minutes(kept_us), Minutes(wanted_us)};
  return {};
}

}  // namespace

void UnitFold::On(const v1::HoldPlaced& f) {
  const bool contaminated = IsContamination(f.kind());
  if (!Take(contaminated ? Event::kContaminationFound : Event::kHoldPlaced)) return;
  if (contaminated) ForgetSteps();
  v1::Hold* hold = unit_->add_holds();
  hold->set_kind(f.kind());
  hold->set_reason(f.reason());
  hold->set_reference(f.reference());
  Stamp(hold->mutable_placed());
}

// Insects and body fluid are over only once treated and looked at; time alone ends nothing. (Some
// insects live a year without feeding, so no waiting time would do.)
bool UnitFold::MayLift(const v1::Hold& hold, const v1::HoldLifted& f) {
  if (!IsContamination(hold.kind())) return true;
  const std::string kind = finding::Words(hold.kind());
  if (!hold.has_treated()) {
    Raise(v1::REASON_NOT_TREATED, {{"kind", kind}}, {&hold.placed()});
    return false;
  }
  if (f.inspected_by().empty()) {
    Raise(v1::REASON_RELEASE_NOT_INSPECTED, {{"kind", kind}}, {&hold.treated()});
    return false;
  }
  return true;
}

// A lift that names no notice ends the holds of that kind, unless they stand for several notices.
void UnitFold::On(const v1::HoldLifted& f) {
  if (!Take(Event::kHoldLifted)) return;
  auto* holds = unit_->mutable_holds();
  std::string present;
  const v1::Hold* first = nullptr;
  bool several = false;
  for (const v1::Hold& hold : *holds) {
    present += (present.empty() ? "" : ", ") + finding::Words(hold.kind()) +
               (hold.reference().empty() ? "" : " " + hold.reference());
    if (hold.kind() != f.kind()) continue;
    several = several || (first != nullptr && first->reference() != hold.reference());
    if (first == nullptr) first = &hold;
  }
  const auto meant = [&](const v1::Hold& hold) {
    return hold.kind() == f.kind() &&
           (f.reference().empty() ? !several : hold.reference() == f.reference());
  };
  if (std::none_of(holds->begin(), holds->end(), meant)) {
    return Raise(v1::REASON_NO_SUCH_HOLD,
                 {{"kind", finding::Words(f.kind())}, {"item", f.reference()}, {"list", present}});
  }
  const auto ended = [&](const v1::Hold& hold) { return meant(hold) && MayLift(hold, f); };
  holds->erase(std::remove_if(holds->begin(), holds->end(), ended), holds->end());
}

void UnitFold::On(const v1::TreatmentDone& f) {
  if (!unit_->has_received()) {
    Take(Event::kTreated);
    return;
  }
  KeepAsFound();
  Take(Event::kTreated);
  const v1::Treatment* treatment = FindTreatment(rules(), f.treatment());
  if (treatment == nullptr) {
    return Raise(v1::REASON_TREATMENT_UNKNOWN, {{"item", f.treatment()}});
  }
  const v1::HoldKind kind = HoldAgainst(treatment->against());
  auto* holds = unit_->mutable_holds();
  if (std::none_of(holds->begin(), holds->end(),
                   [&](const v1::Hold& hold) { return hold.kind() == kind; })) {
    Raise(v1::REASON_NOT_CONTAMINATED, {{"kind", finding::Words(kind)}, {"item", f.treatment()}});
  }
  const Shortfall lacking = Lacking(f, *treatment);
  if (!lacking.limit.empty()) {
    return Raise(v1::REASON_TREATMENT_SHORT,
                 {{"item", f.treatment()}, {"found", lacking.found}, {"limit", lacking.limit}});
  }
  for (v1::Hold& hold : *holds) {
    if (hold.kind() != kind) continue;
    hold.set_treatment(f.treatment());
    Stamp(hold.mutable_treated());
  }
}

// Dirty and clean never share an uncovered space; contact soils the clean one. A unit that was
// soiled already stays as it was.
void UnitFold::On(const v1::ContactNoted& f) {
  const bool was_clean = unit_->hygiene() == v1::HYGIENE_CLEANED;
  if (!Take(Event::kContactNoted) || !was_clean) return;
  v1::Contact* contact = unit_->mutable_contact();
  contact->set_beside_unit(f.beside_unit());
  contact->set_evidence(f.evidence());
  Stamp(contact->mutable_noted());
}

bool UnitFold::HasTaken(v1::CleaningStep step) const {
  const auto& taken = unit_->cleaning_steps();
  return std::any_of(taken.begin(), taken.end(),
                     [&](const v1::CleaningStepTaken& t) { return t.step() == step; });
}

// The first earlier step that must come before this one and was not taken: those that the model
// asks for, and washing before anything that only works on a clean surface.
v1::CleaningStep UnitFold::StepLackingBefore(v1::CleaningStep step) {
  const v1::Model* m = model();
  for (v1::CleaningStep earlier : kSteps) {
    if (earlier >= step) break;
    bool asked = earlier == v1::CLEANING_STEP_WASHING;
    for (int i = 0; m != nullptr && i < m->cleaning_steps_size(); ++i) {
      asked = asked || m->cleaning_steps(i) == earlier;
    }
    // Disinfection is usually told by the end of the cleaning, with its wet time.
    if (earlier == v1::CLEANING_STEP_DISINFECTION) asked = false;
    if (asked && !HasTaken(earlier)) return earlier;
  }
  return v1::CLEANING_STEP_UNSPECIFIED;
}

// A step taken again makes the later ones void; one out of its order does not count.
void UnitFold::On(const v1::CleaningStepDone& f) {
  if (!unit_->has_received()) {
    Take(Event::kCleaningStepDone);
    return;
  }
  KeepAsFound();
  const v1::CleaningStep lacking = StepLackingBefore(f.step());
  Take(Event::kCleaningStepDone);
  if (lacking != v1::CLEANING_STEP_UNSPECIFIED) {
    return Raise(v1::REASON_CLEANING_STEP_OUT_OF_ORDER,
                 {{"item", finding::Words(f.step())}, {"expected", finding::Words(lacking)}});
  }
  auto* taken = unit_->mutable_cleaning_steps();
  taken->erase(std::remove_if(taken->begin(), taken->end(),
                              [&](const v1::CleaningStepTaken& t) { return t.step() >= f.step(); }),
               taken->end());
  v1::CleaningStepTaken* step = taken->Add();
  step->set_step(f.step());
  Stamp(step->mutable_done());
}

void UnitFold::On(const v1::CleaningStarted&) {
  KeepAsFound();
  Take(Event::kCleaningStarted);
}

// The label's contact time is the one that counts, kept wet; a shorter one cleans nothing (CDC 2008
// guideline: by law the label is followed, off-label exposure is the user's liability).
v1::Reason UnitFold::ProductFault(const v1::CleaningFinished& f) {
  const v1::CleaningProduct* product = rules().FindProduct(f.product());
  const int64_t from_us = time::ToMicros(f.wet_from_time());
  const int64_t wet_us = time::ToMicros(f.wet_to_time()) - from_us;
  v1::Reason fault = v1::REASON_UNSPECIFIED;
  if (product == nullptr) {
    fault = v1::REASON_PRODUCT_UNKNOWN;
    Raise(fault, {{"item", f.product()}});
  } else if (wet_us < product->contact_time_s() * kMicrosPerSecond) {
    fault = v1::REASON_WET_TIME_SHORT;
    Raise(fault, {{"item", f.product()},
                  {"limit", std::to_string(product->contact_time_s())},
                  {"found", std::to_string(wet_us / kMicrosPerSecond)}});
  }
  if (product != nullptr && product->dilution() != f.dilution()) {
    fault = v1::REASON_DILUTION_NOT_AS_LABELLED;
    Raise(fault,
          {{"item", f.product()},
           {"found", f.dilution().empty() ? "not stated" : f.dilution()},
           {"expected", product->dilution().empty() ? "ready to use" : product->dilution()}});
  }
  if (f.has_product_expiry_date() && time::IsValid(f.product_expiry_date())) {
    const absl::CivilDay last = time::ToDay(f.product_expiry_date());
    if (time::LocalDay(from_us, ZoneHere()) > last) {
      fault = v1::REASON_PRODUCT_EXPIRED;
      Raise(fault,
            {{"item", f.product()}, {"lot", f.product_lot()}, {"due", time::FormatDay(last)}});
    }
  }
  return fault;
}

// Steps that the model or the product asks for, and disinfection not before washing.
v1::Reason UnitFold::StepFault(const v1::CleaningFinished& f) {
  const v1::Model* m = model();
  const v1::CleaningProduct* product = rules().FindProduct(f.product());
  v1::Reason fault = v1::REASON_UNSPECIFIED;
  for (v1::CleaningStep step : kSteps) {
    bool asked =
        step == v1::CLEANING_STEP_WASHING && product != nullptr && product->needs_washing_first();
    for (int i = 0; m != nullptr && i < m->cleaning_steps_size(); ++i) {
      asked = asked || m->cleaning_steps(i) == step;
    }
    // The wet time is the disinfection.
    if (!asked || step == v1::CLEANING_STEP_DISINFECTION || HasTaken(step)) continue;
    fault = v1::REASON_CLEANING_STEP_MISSING;
    Raise(fault, {{"kind", finding::Words(step)}});
  }
  for (const v1::CleaningStepTaken& taken : unit_->cleaning_steps()) {
    if (taken.step() != v1::CLEANING_STEP_WASHING ||
        time::ToMicros(taken.done().time()) <= time::ToMicros(f.wet_from_time())) {
      continue;
    }
    fault = v1::REASON_CLEANING_STEP_OUT_OF_ORDER;
    Raise(fault, {{"item", finding::Words(v1::CLEANING_STEP_DISINFECTION)},
                  {"expected", finding::Words(v1::CLEANING_STEP_WASHING)}});
  }
  return fault;
}

v1::Reason UnitFold::CleaningFault(const v1::CleaningFinished& f) {
  const v1::Reason steps = StepFault(f);
  const v1::Reason product = ProductFault(f);
  return product != v1::REASON_UNSPECIFIED ? product : steps;
}

void UnitFold::On(const v1::CleaningFinished& f) {
  if (!unit_->has_received()) {
    Take(Event::kCleaned);
    return;
  }
  KeepAsFound();
  const v1::Reason fault = CleaningFault(f);
  if (fault == v1::REASON_UNSPECIFIED) {
    Take(Event::kCleaned);
    unit_->set_seal(f.seal());
    unit_->clear_contact();
    return;
  }
  Take(Event::kCleaningFailed);
  unit_->set_cleaning_failed_because(fault);
  Stamp(unit_->mutable_cleaning_failed());
  unit_->set_cleaning_failed_product(f.product());
}

}  // namespace ferrule::unit
