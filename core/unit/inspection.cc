#include "core/unit/inspection.h"

#include "absl/strings/str_cat.h"
#include "core/unit/electrical.h"

namespace ferrule::unit {
namespace {

// What all readings of one inspection share: what was read on the unit comes before what the
// settings say of its model.
struct Frame {
  const v1::ElectricalProfile* profile = nullptr;
  v1::ElectricalClass electrical_class = v1::ELECTRICAL_CLASS_UNSPECIFIED;
  v1::AppliedPart applied_part = v1::APPLIED_PART_UNSPECIFIED;
};

Frame FrameOf(const v1::InspectionDone& inspection, const v1::Model* model,
              const v1::Checklist& checklist, const depot::Rules& rules) {
  Frame frame{nullptr, inspection.electrical_class(), inspection.applied_part()};
  if (model != nullptr && frame.electrical_class == v1::ELECTRICAL_CLASS_UNSPECIFIED) {
    frame.electrical_class = model->electrical_class();
  }
  if (model != nullptr && frame.applied_part == v1::APPLIED_PART_UNSPECIFIED) {
    frame.applied_part = model->applied_part();
  }
  for (const v1::ElectricalProfile& profile : rules.settings().electrical_profiles()) {
    if (profile.id() == checklist.electrical_profile()) frame.profile = &profile;
  }
  return frame;
}

std::string WithUnit(std::string_view words, double limit, const std::string& unit) {
  std::string text = absl::StrCat(std::string(words), " ", limit);
  if (!unit.empty()) absl::StrAppend(&text, " ", unit);
  return text;
}

// The limit that a value breaks, as text; empty when it is within. Written so that a value that is
// no number fails.
template <typename Limits>
std::string Broken(const Limits& limits, const std::string& unit, double value) {
  if (limits.has_max() && !(value <= limits.max())) return WithUnit("at most", limits.max(), unit);
  if (limits.has_min() && !(value >= limits.min())) return WithUnit("at least", limits.min(), unit);
  return "";
}

std::string BrokenLimit(const v1::ChecklistItem& item, double value) {
  if (!item.has_min() && !item.has_max() && item.unit().empty()) {
    return value == 1 ? "" : "must be yes";
  }
  return Broken(item, item.unit(), value);
}

// By the limits of the profile; without a limit that is certain there is no verdict on the item.
std::string BrokenElectricalLimit(const Frame& frame, const v1::ChecklistItem& item,
                                  const v1::Reading& reading, Verdict* verdict) {
  const Measured measured{frame.electrical_class, frame.applied_part, reading.method()};
  const LimitOrLack found = FindLimit(frame.profile, item.electrical(), measured);
  if (found.limit != nullptr) return Broken(*found.limit, item.unit(), reading.value());
  verdict->not_stated.push_back({item.id(), found.lack});
  return "";
}

void JudgeItem(const v1::ChecklistItem& item, const v1::InspectionDone& inspection,
               const Frame& frame, Verdict* verdict) {
  bool read = false;
  const bool electrical = !item.electrical().empty();
  verdict->electrical |= electrical;
  for (const v1::Reading& reading : inspection.readings()) {
    if (reading.item() != item.id()) continue;
    read = true;
    std::string limit = electrical ? BrokenElectricalLimit(frame, item, reading, verdict)
                                   : BrokenLimit(item, reading.value());
    if (limit.empty()) continue;
    v1::FailedItem& failed = verdict->failed.emplace_back();
    failed.set_item(item.id());
    failed.set_value(reading.value());
    failed.set_limit(std::move(limit));
  }
  if (!read) verdict->unread.push_back(item.id());
}

}  // namespace

Verdict Judge(const v1::InspectionDone& inspection, const v1::Model* model,
              const depot::Rules& rules) {
  Verdict verdict;
  const std::string& right =
      model != nullptr && !model->checklist().empty() ? model->checklist() : inspection.checklist();
  const v1::Checklist* checklist = rules.FindChecklist(right);
  if (checklist == nullptr || right != inspection.checklist() ||
      checklist->version() != inspection.checklist_version()) {
    verdict.in_force = false;
    verdict.expected_checklist = right;
    if (checklist != nullptr) verdict.expected_version = checklist->version();
    // Readings taken by another version are still readings, but of its own items: no verdict.
    return verdict;
  }
  const Frame frame = FrameOf(inspection, model, *checklist, rules);
  for (const v1::ChecklistItem& item : checklist->items()) {
    JudgeItem(item, inspection, frame, &verdict);
  }
  return verdict;
}

std::string NumberText(double value) { return absl::StrCat(value); }

}  // namespace ferrule::unit
