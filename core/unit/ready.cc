#include "core/unit/ready.h"

#include <algorithm>
#include <string>
#include <utility>

#include "core/finding/enum_words.h"
#include "core/finding/raise.h"
#include "core/time/civil.h"
#include "core/unit/commitment.h"
#include "core/unit/inspection.h"
#include "core/unit/service_due.h"

namespace ferrule::unit {
namespace {

// One unit looked at for one purpose at one instant.
class Look {
 public:
  Look(const v1::SubjectState& state, const depot::SettingsBook& book, const ReadyQuery& query)
      : subject_(state.name()),
        unit_(state.unit()),
        query_(query),
        rules_(book.At(query.at_us)),
        model_(rules_.FindModel(unit_.model())) {}

  std::vector<v1::Finding> Findings() {
    if (!unit_.has_received()) {
      Add(v1::REASON_UNIT_UNKNOWN, {{"unit", unit_.unit()}});
      return std::move(findings_);
    }
    if (model_ == nullptr) Add(v1::REASON_MODEL_UNKNOWN, {{"model", unit_.model()}});
    AtCleanPlace();
    Clean();
    Works();
    Complete();
    ServiceNotDue();
    NotBlocked();
    Available();
    Fits();
    NotPromised();
    return std::move(findings_);
  }

 private:
  void Add(v1::Reason reason, finding::Values values = {}, finding::Evidence evidence = {}) {
    v1::Finding& finding = findings_.emplace_back();
    finding.set_reason(reason);
    finding.set_subject(subject_);
    for (const auto& [key, value] : values) {
      if (value.empty()) continue;
      v1::FindingValue* v = finding.add_values();
      v->set_key(std::string(key));
      v->set_value(std::string(value));
    }
    for (const v1::Stamp* stamp : evidence) {
      if (stamp != nullptr && stamp->has_time()) *finding.add_evidence() = *stamp;
    }
  }

  void AtCleanPlace() {
    if (!unit_.transfer().empty()) {
      return Add(v1::REASON_IN_TRANSIT, {{"item", unit_.transfer()}}, {&unit_.transfer_sent()});
    }
    const v1::Stamp* since = &unit_.custody_since();
    switch (unit_.custody()) {
      case v1::CUSTODY_HOME:
        return Add(v1::REASON_AT_HOME, {{"order", unit_.order()}}, {since});
      case v1::CUSTODY_UNACCOUNTED:
        return Add(v1::REASON_UNACCOUNTED, {{"place", unit_.place()}}, {since});
      case v1::CUSTODY_LEFT_FLEET:
        return Add(v1::REASON_LEFT_FLEET, {}, {since});
      default:
        break;
    }
    const v1::Place* place = rules_.FindPlace(unit_.place());
    if (place != nullptr && place->kind() == v1::PLACE_KIND_VENDOR) {
      Add(v1::REASON_NOT_IN_CUSTODY, {{"place", unit_.place()}, {"found", unit_.place()}}, {since});
    } else if (place == nullptr || !depot::IsCleanPlace(place->kind())) {
      Add(v1::REASON_NOT_AT_CLEAN_PLACE, {{"place", unit_.place()}}, {since});
    }
  }

  void Clean() {
    for (const v1::Hold& hold : unit_.holds()) {
      if (hold.kind() == v1::HOLD_KIND_CONTAMINATION || hold.kind() == v1::HOLD_KIND_INFESTATION) {
        Add(v1::REASON_CONTAMINATED, {{"kind", finding::Words(hold.kind())}}, {&hold.placed()});
      }
    }
    if (unit_.hygiene() != v1::HYGIENE_CLEANED) {
      Add(v1::REASON_NOT_CLEANED, {{"place", unit_.place()}}, {&unit_.soiled(), &unit_.cleaned()});
      if (unit_.has_contact()) {
        Add(v1::REASON_SOILED_BY_CONTACT,
            {{"item", unit_.contact().beside_unit()}, {"found", unit_.contact().evidence()}},
            {&unit_.contact().noted()});
      }
      const v1::Reason failed = unit_.cleaning_failed_because();
      if (failed != v1::REASON_UNSPECIFIED) {
        Add(failed, {{"item", unit_.cleaning_failed_product()}},
            {&unit_.cleaning_failed(), &unit_.soiled()});
      }
    }
    if (model_ != nullptr && model_->keeps_patient_data() && !unit_.erased_since_return()) {
      Add(v1::REASON_MEMORY_NOT_ERASED, {{"model", unit_.model()}},
          {&unit_.returned(), &unit_.erased()});
    }
  }

  void Works() {
    switch (unit_.condition()) {
      case v1::CONDITION_UNTESTED:
        return Add(unit_.untested_because(),
                   {{"item", unit_.doubted_tester().empty() ? unit_.inspection().checklist()
                                                            : unit_.doubted_tester()},
                    {"version", unit_.inspection().checklist_version()}},
                   {&unit_.untested_since(), &unit_.inspection().done()});
      case v1::CONDITION_FAILED:
        return Failed();
      case v1::CONDITION_UNDER_REPAIR:
        return Add(v1::REASON_UNDER_REPAIR, {},
                   {&unit_.repair().opened(), &unit_.inspection().done()});
      default:
        return;
    }
  }

  void Failed() {
    const v1::Inspection& inspection = unit_.inspection();
    std::string items;
    for (const v1::FailedItem& item : inspection.failed()) {
      if (!items.empty()) items += ", ";
      items += item.item();
    }
    const v1::FailedItem& first =
        inspection.failed_size() > 0 ? inspection.failed(0) : v1::FailedItem::default_instance();
    Add(v1::REASON_INSPECTION_FAILED,
        {{"item", first.item()},
         {"found", NumberText(first.value())},
         {"limit", first.limit()},
         {"list", items}},
        {&inspection.done()});
  }

  void Complete() {
    std::vector<std::string_view> lacking;
    if (model_ != nullptr) {
      for (const v1::PartPosition& p : model_->parts()) {
        if (p.required() && !IsFilled(p.position())) lacking.push_back(p.position());
      }
    }
    for (const std::string& position : unit_.missing()) {
      if (std::find(lacking.begin(), lacking.end(), position) == lacking.end()) {
        lacking.push_back(position);
      }
    }
    for (std::string_view position : lacking) {
      Add(v1::REASON_PART_MISSING, {{"position", position}, {"model", unit_.model()}},
          {RemovalOf(position)});
    }
  }

  const v1::Stamp* RemovalOf(std::string_view position) const {
    for (const v1::PartOut& out : unit_.parts_out()) {
      if (out.position() == position) return &out.removed();
    }
    return nullptr;
  }

  bool IsFilled(std::string_view position) const {
    return std::any_of(unit_.parts().begin(), unit_.parts().end(),
                       [&](const v1::PartIn& part) { return part.position() == position; });
  }

  void ServiceNotDue() {
    if (model_ == nullptr || model_->service_plan().empty()) return;
    const v1::ServicePlan* plan = rules_.FindServicePlan(model_->service_plan());
    if (plan == nullptr) return;
    const v1::Branch* branch = rules_.BranchOfPlace(unit_.place());
    const absl::TimeZone zone =
        branch == nullptr ? absl::UTCTimeZone() : rules_.ZoneOf(branch->id());
    if (IsDeferred(*plan, time::LocalDay(query_.at_us, zone))) return;
    const ServiceUse now{query_.at_us, 0, 1};
    if (const std::optional<ServiceDue> due = DueService(unit_, *plan, zone, now)) {
      return AddService(v1::REASON_SERVICE_DUE, *plan, *due);
    }
    if (query_.expected_return_us <= query_.at_us) return;
    const int64_t days =
        time::LocalDay(query_.expected_return_us, zone) - time::LocalDay(query_.at_us, zone);
    // A unit that is back as a day begins is not in use on that day.
    if (IsDeferred(*plan, time::LocalDay(query_.expected_return_us - 1, zone))) return;
    const ServiceUse then{query_.expected_return_us - 1, days * query_.expected_use_s_per_day, 1};
    if (const std::optional<ServiceDue> due = DueService(unit_, *plan, zone, then)) {
      AddService(v1::REASON_SERVICE_DUE_BEFORE_RETURN, *plan, *due);
    }
  }

  // Put off by someone with the authority, to a day that has not passed.
  bool IsDeferred(const v1::ServicePlan& plan, absl::CivilDay day) const {
    const v1::Deferral& deferral = unit_.service_deferred();
    return unit_.has_service_deferred() && deferral.plan() == plan.id() &&
           time::IsValid(deferral.until_date()) && day <= time::ToDay(deferral.until_date());
  }

  void AddService(v1::Reason reason, const v1::ServicePlan& plan, const ServiceDue& due) {
    Add(reason,
        {{"plan", plan.id()},
         {"basis", due.basis},
         {"limit", due.limit},
         {"found", due.found},
         {"due", due.due}},
        {unit_.has_serviced() ? &unit_.serviced() : &unit_.received()});
  }

  void NotBlocked() {
    for (const v1::Hold& hold : unit_.holds()) {
      Add(v1::REASON_ON_HOLD, {{"kind", finding::Words(hold.kind())}, {"found", hold.reason()}},
          {&hold.placed()});
    }
  }

  bool HeldForOther() const {
    return unit_.commitment() == v1::COMMITMENT_HELD && !HoldLapsed(unit_, query_.at_us) &&
           (query_.order.empty() || unit_.order() != query_.order);
  }

  void AddHold(v1::Reason reason) {
    const std::string until = unit_.has_hold_until_time()
                                  ? time::FormatUtc(time::ToMicros(unit_.hold_until_time()))
                                  : std::string();
    Add(reason, {{"order", unit_.order()}, {"until", until}}, {&unit_.commitment_since()});
  }

  void NotPromised() {
    if (HeldForOther() && unit_.hold_firm()) AddHold(v1::REASON_FIRMLY_PROMISED);
  }

  void Available() {
    if (HeldForOther() && !unit_.hold_firm()) AddHold(v1::REASON_COMMITTED_TO_OTHER_ORDER);
    if (unit_.commitment() == v1::COMMITMENT_ON_RENT) {
      Add(v1::REASON_ON_RENT, {{"order", unit_.order()}}, {&unit_.commitment_since()});
    }
    // A unit rented in is there to go out; a demonstration unit or a loaner is not.
    const v1::Purpose purpose = unit_.purpose();
    if (purpose == v1::PURPOSE_DEMONSTRATION || purpose == v1::PURPOSE_LOANER) {
      Add(v1::REASON_OUTSIDE_RENTAL_FLEET, {{"kind", finding::Words(purpose)}},
          {&unit_.received()});
    }
  }

  void Fits() {
    if (model_ == nullptr) return;
    const bool matters = query_.side == v1::SIDE_LEFT || query_.side == v1::SIDE_RIGHT;
    if (matters && model_->sided() && unit_.side() != query_.side &&
        unit_.side() != v1::SIDE_EITHER) {
      Add(v1::REASON_WRONG_SIDE,
          {{"expected", finding::Words(query_.side)}, {"found", finding::Words(unit_.side())}});
    }
    if (!query_.device_class.empty() && model_->device_class() != query_.device_class) {
      Add(v1::REASON_WRONG_CLASS,
          {{"expected", query_.device_class}, {"found", model_->device_class()}});
    }
  }

  const std::string& subject_;
  const v1::UnitState& unit_;
  const ReadyQuery& query_;
  const depot::Rules& rules_;
  const v1::Model* model_;
  std::vector<v1::Finding> findings_;
};

}  // namespace

std::vector<v1::Finding> Assess(const v1::SubjectState& state, const depot::SettingsBook& book,
                                const ReadyQuery& query) {
  return Look(state, book, query).Findings();
}

}  // namespace ferrule::unit
