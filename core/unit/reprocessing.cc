#include <algorithm>

#include "core/finding/enum_words.h"
#include "core/time/civil.h"
#include "core/unit/ready.h"
#include "core/unit/unit_fold.h"

namespace ferrule::unit {
namespace {

constexpr int64_t kMicrosPerSecond = 1'000'000;

// The hold that forbids cleaning: an incident unit is kept as found. Null when there is none.
const v1::Stamp* IncidentHold(const v1::UnitState& unit) {
  for (const v1::Hold& hold : unit.holds()) {
    if (hold.kind() == v1::HOLD_KIND_INCIDENT) return &hold.placed();
  }
  return nullptr;
}

}  // namespace

// Voids a pass or a fail that stands. A unit that is untested already keeps its reason: what it
// lacks is still the inspection that it lacked before.
void UnitFold::Void(v1::Reason because) {
  if (unit_->condition() != v1::CONDITION_PASSED && unit_->condition() != v1::CONDITION_FAILED) {
    return;
  }
  unit_->set_untested_because(because);
  Stamp(unit_->mutable_untested_since());
}

void UnitFold::On(const v1::HoldPlaced& f) {
  const bool contaminated =
      f.kind() == v1::HOLD_KIND_CONTAMINATION || f.kind() == v1::HOLD_KIND_INFESTATION;
  if (!Take(contaminated ? Event::kContaminationFound : Event::kHoldPlaced)) return;
  v1::Hold* hold = unit_->add_holds();
  hold->set_kind(f.kind());
  hold->set_reason(f.reason());
  Stamp(hold->mutable_placed());
}

void UnitFold::On(const v1::HoldLifted& f) {
  if (!Take(Event::kHoldLifted)) return;
  auto* holds = unit_->mutable_holds();
  const auto rest = std::remove_if(holds->begin(), holds->end(),
                                   [&](const v1::Hold& hold) { return hold.kind() == f.kind(); });
  if (rest == holds->end()) {
    Raise(v1::REASON_NO_SUCH_HOLD, {{"kind", finding::Words(f.kind())}});
  }
  holds->erase(rest, holds->end());
}

// What an incident unit holds, on it and in its memory, is evidence until the hold is lifted.
void UnitFold::KeepAsFound() {
  if (const v1::Stamp* incident = IncidentHold(*unit_)) {
    Raise(v1::REASON_INCIDENT_NOT_TO_BE_CLEANED, {}, {incident});
  }
}

void UnitFold::On(const v1::CleaningStarted&) {
  KeepAsFound();
  Take(Event::kCleaningStarted);
}

// The label's contact time is the one that counts, kept wet; a shorter one cleans nothing (CDC 2008
// guideline: by law the label is followed, off-label exposure is the user's liability).
v1::Reason UnitFold::CleaningFault(const v1::CleaningFinished& f) {
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
  if (f.has_product_expiry_date() && time::IsValid(f.product_expiry_date())) {
    const v1::Branch* branch = rules().BranchOfPlace(unit_->place());
    const absl::TimeZone zone =
        branch == nullptr ? absl::UTCTimeZone() : rules().ZoneOf(branch->id());
    const absl::CivilDay last = time::ToDay(f.product_expiry_date());
    if (time::LocalDay(from_us, zone) > last) {
      fault = v1::REASON_PRODUCT_EXPIRED;
      Raise(fault,
            {{"item", f.product()}, {"lot", f.product_lot()}, {"due", time::FormatDay(last)}});
    }
  }
  return fault;
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
    return;
  }
  Take(Event::kCleaningFailed);
  unit_->set_cleaning_failed_because(fault);
  Stamp(unit_->mutable_cleaning_failed());
  unit_->set_cleaning_failed_product(f.product());
}

void UnitFold::On(const v1::MemoryErased&) {
  KeepAsFound();
  if (!Take(Event::kMemoryErased)) return;
  Stamp(unit_->mutable_erased());
  unit_->set_erased_since_return(true);
}

void UnitFold::RaiseInspectionFaults(const v1::InspectionDone& f, const Verdict& verdict,
                                     bool clean) {
  if (!verdict.in_force) {
    Raise(v1::REASON_CHECKLIST_NOT_IN_FORCE,
          {{"found", f.checklist() + " " + f.checklist_version()},
           {"expected", verdict.expected_version.empty()
                            ? verdict.expected_checklist
                            : verdict.expected_checklist + " " + verdict.expected_version}});
  }
  for (const std::string& item : verdict.unread) {
    Raise(v1::REASON_READING_MISSING, {{"item", item}, {"version", f.checklist_version()}});
  }
  // Why it does not count, for as long as no other inspection does.
  v1::Reason because = clean ? v1::REASON_READING_MISSING : v1::REASON_NOT_CLEANED;
  if (clean && !verdict.in_force) because = v1::REASON_CHECKLIST_NOT_IN_FORCE;
  unit_->set_untested_because(because);
  Stamp(unit_->mutable_untested_since());
}

void UnitFold::On(const v1::InspectionDone& f) {
  if (!unit_->has_received()) {
    Take(Event::kInspectionPassed);
    return;
  }
  const Verdict verdict = Judge(f, model(), rules());
  const bool clean = unit_->hygiene() == v1::HYGIENE_CLEANED;
  const bool counts = clean && verdict.counts();
  const bool failed = !verdict.failed.empty();
  if (!counts) RaiseInspectionFaults(f, verdict, clean);
  if (unit_->condition() == v1::CONDITION_UNDER_REPAIR) {
    // The repair goes on after it.
    unit_->set_untested_because(v1::REASON_REPAIRED_AFTER_INSPECTION);
    *unit_->mutable_untested_since() = unit_->repair().opened();
  }
  if (failed) {
    Take(Event::kInspectionFailed);
  } else {
    Take(counts ? Event::kInspectionPassed : Event::kInspectionVoid);
  }
  // A failed unit stays failed by the inspection that found the fault.
  if (!failed && !counts && unit_->condition() == v1::CONDITION_FAILED) return;
  KeepInspection(f, verdict, counts && !failed);
}

void UnitFold::KeepInspection(const v1::InspectionDone& f, const Verdict& verdict, bool passed) {
  v1::Inspection* inspection = unit_->mutable_inspection();
  Stamp(inspection->mutable_done());
  inspection->set_checklist(f.checklist());
  inspection->set_checklist_version(f.checklist_version());
  inspection->set_tester(f.tester());
  inspection->set_passed(passed);
  inspection->clear_failed();
  for (const v1::FailedItem& item : verdict.failed) *inspection->add_failed() = item;
  if (unit_->condition() == v1::CONDITION_PASSED) {
    unit_->clear_untested_because();
    unit_->clear_untested_since();
  }
}

void UnitFold::On(const v1::RepairOpened& f) {
  KeepAsFound();
  Void(v1::REASON_REPAIRED_AFTER_INSPECTION);
  if (!Take(Event::kRepairOpened)) return;
  if (unit_->has_repair()) return;  // the one that is open goes on
  Stamp(unit_->mutable_repair()->mutable_opened());
  unit_->mutable_repair()->set_complaint(f.complaint());
}

void UnitFold::On(const v1::RepairClosed&) {
  Void(v1::REASON_REPAIRED_AFTER_INSPECTION);
  if (!Take(Event::kRepairClosed)) return;
  unit_->clear_repair();
  if (unit_->untested_because() == v1::REASON_REPAIRED_AFTER_INSPECTION) {
    Stamp(unit_->mutable_untested_since());
  }
}

void UnitFold::On(const v1::ServiceDone& f) {
  if (!Take(Event::kServiceDone)) return;
  const v1::Model* m = model();
  const std::string& right =
      m != nullptr && !m->service_plan().empty() ? m->service_plan() : f.plan();
  if (rules().FindServicePlan(f.plan()) == nullptr || right != f.plan()) {
    // Another plan's service does not count for this unit's intervals.
    return Raise(v1::REASON_SERVICE_PLAN_UNKNOWN, {{"found", f.plan()}, {"expected", right}});
  }
  Stamp(unit_->mutable_serviced());
  unit_->set_serviced_run_s(TrueRunSeconds(unit_->meter()));
  unit_->set_serviced_turn_count(unit_->turn_count());
}

}  // namespace ferrule::unit
