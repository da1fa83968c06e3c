#include <algorithm>

#include "core/finding/enum_words.h"
#include "core/time/civil.h"
#include "core/unit/ready.h"
#include "core/unit/unit_fold.h"

namespace ferrule::unit {
namespace {

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

// What an incident unit holds, on it and in its memory, is evidence until the hold is lifted.
void UnitFold::KeepAsFound() {
  if (const v1::Stamp* incident = IncidentHold(*unit_)) {
    Raise(v1::REASON_INCIDENT_NOT_TO_BE_CLEANED, {}, {incident});
  }
}

// The zone whose days count where the unit stands.
absl::TimeZone UnitFold::ZoneHere() {
  const v1::Branch* branch = rules().BranchOfPlace(unit_->place());
  return branch == nullptr ? absl::UTCTimeZone() : rules().ZoneOf(branch->id());
}

void UnitFold::On(const v1::MemoryErased&) {
  KeepAsFound();
  if (!Take(Event::kMemoryErased)) return;
  Stamp(unit_->mutable_erased());
  unit_->set_erased_since_return(true);
}

bool UnitFold::TesterOutOfDate(const v1::InspectionDone& f) {
  if (!f.has_tester_due_date() || !time::IsValid(f.tester_due_date())) return false;
  const absl::CivilDay due = time::ToDay(f.tester_due_date());
  if (time::LocalDay(view_.happened_us, ZoneHere()) <= due) return false;
  Raise(v1::REASON_TESTER_OUT_OF_DATE, {{"item", f.tester()}, {"due", time::FormatDay(due)}});
  return true;
}

// Why it does not count, for as long as no other inspection does; raises all there is.
v1::Reason UnitFold::RaiseInspectionFaults(const v1::InspectionDone& f, const Verdict& verdict) {
  v1::Reason because = v1::REASON_UNSPECIFIED;
  const auto fault = [&](v1::Reason reason) {
    if (because == v1::REASON_UNSPECIFIED) because = reason;
    return reason;
  };
  if (unit_->hygiene() != v1::HYGIENE_CLEANED) fault(v1::REASON_NOT_CLEANED);
  if (!verdict.in_force) {
    Raise(fault(v1::REASON_CHECKLIST_NOT_IN_FORCE),
          {{"found", f.checklist() + " " + f.checklist_version()},
           {"expected", verdict.expected_version.empty()
                            ? verdict.expected_checklist
                            : verdict.expected_checklist + " " + verdict.expected_version}});
  }
  for (const std::string& item : verdict.unread) {
    Raise(fault(v1::REASON_READING_MISSING), {{"item", item}, {"version", f.checklist_version()}});
  }
  for (const NotStated& lacking : verdict.not_stated) {
    Raise(fault(v1::REASON_ELECTRICAL_NOT_STATED),
          {{"item", lacking.item}, {"found", lacking.what}});
  }
  if (verdict.electrical && f.tester().empty()) {
    Raise(fault(v1::REASON_TESTER_NOT_STATED), {{"item", f.checklist()}});
  }
  if (TesterOutOfDate(f)) fault(v1::REASON_TESTER_OUT_OF_DATE);
  return because;
}

void UnitFold::On(const v1::InspectionDone& f) {
  if (!unit_->has_received()) {
    Take(Event::kInspectionPassed);
    return;
  }
  const Verdict verdict = Judge(f, model(), rules());
  const v1::Reason because = RaiseInspectionFaults(f, verdict);
  const bool counts = because == v1::REASON_UNSPECIFIED;
  const bool failed = !verdict.failed.empty();
  if (!counts) {
    unit_->set_untested_because(because);
    Stamp(unit_->mutable_untested_since());
    unit_->clear_doubted_tester();
  }
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
    unit_->clear_doubted_tester();
  }
}

// A pass is worth what the instrument was worth that gave it. One given by another tester, or
// outside that time, stands.
void UnitFold::On(const v1::TesterDoubted& f) {
  const v1::Inspection& last = unit_->inspection();
  const int64_t done_us = time::ToMicros(last.done().time());
  const bool doubted = last.passed() && last.tester() == f.tester() &&
                       time::ToMicros(f.from_time()) <= done_us &&
                       done_us < time::ToMicros(f.to_time());
  if (unit_->has_received() && !doubted) return;
  if (unit_->condition() == v1::CONDITION_PASSED) unit_->set_doubted_tester(f.tester());
  if (unit_->condition() == v1::CONDITION_PASSED) Void(v1::REASON_TESTER_IN_DOUBT);
  Take(Event::kTesterDoubted);
}

void UnitFold::On(const v1::RepairOpened& f) {
  KeepAsFound();
  Void(v1::REASON_REPAIRED_AFTER_INSPECTION);
  if (!Take(Event::kRepairOpened)) return;
  if (unit_->has_repair()) return;  // the one that is open goes on
  Stamp(unit_->mutable_repair()->mutable_opened());
  unit_->mutable_repair()->set_complaint(f.complaint());
}

// Where the settings list causes, a repair that found something names one of them.
void UnitFold::CheckCause(const v1::RepairClosed& f) {
  const auto& causes = rules().settings().repair_causes();
  if (causes.empty() || (f.cause().empty() && f.no_fault_found())) return;
  std::string list;
  for (const v1::RepairCause& cause : causes) {
    if (cause.id() == f.cause()) return;
    list += (list.empty() ? "" : ", ") + cause.id();
  }
  Raise(v1::REASON_CAUSE_UNKNOWN, {{"item", f.cause()}, {"list", list}});
}

void UnitFold::On(const v1::RepairClosed& f) {
  if (unit_->has_received()) CheckCause(f);
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
  unit_->clear_service_deferred();
  Stamp(unit_->mutable_serviced());
  unit_->set_serviced_run_s(TrueRunSeconds(unit_->meter()));
  unit_->set_serviced_turn_count(unit_->turn_count());
}

void UnitFold::On(const v1::ServiceDeferred& f) {
  if (!Take(Event::kServiceDeferred)) return;
  const v1::Model* m = model();
  const std::string& right =
      m != nullptr && !m->service_plan().empty() ? m->service_plan() : f.plan();
  if (rules().FindServicePlan(f.plan()) == nullptr || right != f.plan()) {
    return Raise(v1::REASON_SERVICE_PLAN_UNKNOWN, {{"found", f.plan()}, {"expected", right}});
  }
  v1::Deferral* deferral = unit_->mutable_service_deferred();
  deferral->set_plan(f.plan());
  *deferral->mutable_until_date() = f.until_date();
  deferral->set_authority(f.authority());
  Stamp(deferral->mutable_deferred());
}

}  // namespace ferrule::unit
