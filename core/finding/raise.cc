#include "core/finding/raise.h"

#include <string>
#include <utility>

#include "core/finding/catalog.h"
#include "core/time/civil.h"

namespace ferrule::finding {
namespace {

void SetFact(const fact::FactView& view, v1::FactRef* ref) {
  ref->set_entry_id(view.entry->entry_id());
  ref->set_index(view.index);
}

// The override of that rule in the fact, when the rule may be set aside at all.
const v1::Override* OverrideOf(const v1::Fact& fact, v1::Reason reason) {
  if (!MayOverride(reason)) return nullptr;
  for (const v1::Override& o : fact.overrides()) {
    if (o.rule() == reason) return &o;
  }
  return nullptr;
}

}  // namespace

void Raiser::Raise(v1::Reason reason, Values values, Evidence evidence) {
  v1::Finding finding;
  finding.set_reason(reason);
  for (const v1::Stamp* stamp : evidence) {
    if (stamp != nullptr && stamp->has_time()) *finding.add_evidence() = *stamp;
  }
  for (const auto& [key, value] : values) {
    v1::FindingValue* v = finding.add_values();
    v->set_key(std::string(key));
    v->set_value(std::string(value));
  }
  Raise(std::move(finding));
}

void Raiser::Raise(v1::Finding finding) {
  if (finding.subject().empty()) finding.set_subject(state_->name());
  SetFact(view_, finding.mutable_fact());
  time::SetMicros(view_.happened_us, finding.mutable_time());
  const v1::Override* set_aside = OverrideOf(view_.fact(), finding.reason());
  if (set_aside == nullptr) {
    ++count_;
    *state_->add_questions() = std::move(finding);
    return;
  }
  v1::OverrideUsed* used = state_->add_overrides();
  *used->mutable_finding() = std::move(finding);
  used->set_authority(set_aside->authority());
  used->set_because(set_aside->because());
}

void SetStamp(const fact::FactView& view, v1::Stamp* stamp) {
  time::SetMicros(view.happened_us, stamp->mutable_time());
  stamp->set_actor(view.entry->actor());
  SetFact(view, stamp->mutable_fact());
}

}  // namespace ferrule::finding
