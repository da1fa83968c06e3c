#include "core/unit/inspection.h"

#include "absl/strings/str_cat.h"

namespace ferrule::unit {
namespace {

std::string WithUnit(std::string_view words, double limit, const std::string& unit) {
  std::string text = absl::StrCat(std::string(words), " ", limit);
  if (!unit.empty()) absl::StrAppend(&text, " ", unit);
  return text;
}

// The limit that a value breaks, as text; empty when it is within. Written so that a value that is
// no number fails.
std::string BrokenLimit(const v1::ChecklistItem& item, double value) {
  if (!item.has_min() && !item.has_max() && item.unit().empty()) {
    return value == 1 ? "" : "must be yes";
  }
  if (item.has_max() && !(value <= item.max())) return WithUnit("at most", item.max(), item.unit());
  if (item.has_min() && !(value >= item.min()))
    return WithUnit("at least", item.min(), item.unit());
  return "";
}

void JudgeItem(const v1::ChecklistItem& item, const v1::InspectionDone& inspection,
               Verdict* verdict) {
  bool read = false;
  for (const v1::Reading& reading : inspection.readings()) {
    if (reading.item() != item.id()) continue;
    read = true;
    std::string limit = BrokenLimit(item, reading.value());
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
  for (const v1::ChecklistItem& item : checklist->items()) JudgeItem(item, inspection, &verdict);
  return verdict;
}

std::string NumberText(double value) { return absl::StrCat(value); }

}  // namespace ferrule::unit
