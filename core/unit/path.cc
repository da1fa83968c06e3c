#include <algorithm>
#include <array>
#include <string>
#include <utility>

#include "core/unit/ready.h"

namespace ferrule::unit {
namespace {

// The steps, in the order in which they are done.
enum Step {
  kCorrectRecords,
  kGetBack,
  kLiftHold,
  kClean,
  kErase,
  kRepair,
  kFitParts,
  kService,
  kSetSide,
  kInspect,
  kPutAway,
  kFree,
  kTakeAnother,
  kStepCount,
};

struct Cure {
  v1::Reason reason;
  Step step;
};

// What each reason needs first.
constexpr Cure kCures[] = {
    {v1::REASON_UNIT_UNKNOWN, kCorrectRecords},
    {v1::REASON_MODEL_UNKNOWN, kCorrectRecords},
    {v1::REASON_NOT_IN_CUSTODY, kGetBack},
    {v1::REASON_AT_HOME, kGetBack},
    {v1::REASON_UNACCOUNTED, kGetBack},
    {v1::REASON_LEFT_FLEET, kGetBack},
    {v1::REASON_NOT_AT_CLEAN_PLACE, kPutAway},
    {v1::REASON_CONTAMINATED, kLiftHold},
    {v1::REASON_NOT_CLEANED, kClean},
    {v1::REASON_WET_TIME_SHORT, kClean},
    {v1::REASON_PRODUCT_EXPIRED, kClean},
    {v1::REASON_PRODUCT_UNKNOWN, kClean},
    {v1::REASON_MEMORY_NOT_ERASED, kErase},
    {v1::REASON_NOT_INSPECTED_SINCE_RETURN, kInspect},
    {v1::REASON_REPAIRED_AFTER_INSPECTION, kInspect},
    {v1::REASON_PART_CHANGED_AFTER_INSPECTION, kInspect},
    {v1::REASON_INSPECTION_FAILED, kRepair},
    {v1::REASON_CHECKLIST_NOT_IN_FORCE, kInspect},
    {v1::REASON_READING_MISSING, kInspect},
    {v1::REASON_UNDER_REPAIR, kRepair},
    {v1::REASON_PART_MISSING, kFitParts},
    {v1::REASON_SERVICE_DUE, kService},
    {v1::REASON_SERVICE_DUE_BEFORE_RETURN, kService},
    {v1::REASON_ON_HOLD, kLiftHold},
    {v1::REASON_COMMITTED_TO_OTHER_ORDER, kFree},
    {v1::REASON_ON_RENT, kGetBack},
    {v1::REASON_OUTSIDE_RENTAL_FLEET, kTakeAnother},
    {v1::REASON_WRONG_SIDE, kSetSide},
    {v1::REASON_WRONG_CLASS, kTakeAnother},
    {v1::REASON_FIRMLY_PROMISED, kFree},
    {v1::REASON_CLEANING_STEP_OUT_OF_ORDER, kClean},
    {v1::REASON_CLEANING_STEP_MISSING, kClean},
    {v1::REASON_DILUTION_NOT_AS_LABELLED, kClean},
    {v1::REASON_SOILED_BY_CONTACT, kClean},
    {v1::REASON_ELECTRICAL_NOT_STATED, kInspect},
    {v1::REASON_TESTER_NOT_STATED, kInspect},
    {v1::REASON_TESTER_OUT_OF_DATE, kInspect},
    {v1::REASON_TESTER_IN_DOUBT, kInspect},
    {v1::REASON_IN_TRANSIT, kPutAway},
};

// What a step makes necessary after it.
struct Consequence {
  Step step;
  Step then;
};
constexpr Consequence kConsequences[] = {
    {kGetBack, kClean},  {kGetBack, kInspect},  {kGetBack, kPutAway},
    {kRepair, kInspect}, {kFitParts, kInspect},
};

std::string Value(const v1::Finding& finding, std::string_view key) {
  for (const v1::FindingValue& v : finding.values()) {
    if (v.key() == key) return v.value();
  }
  return "";
}

std::string GetBack(const v1::Finding& finding) {
  switch (finding.reason()) {
    case v1::REASON_UNACCOUNTED:
    case v1::REASON_LEFT_FLEET:
      return "record where it was found";
    case v1::REASON_NOT_IN_CUSTODY:
      return "get it back from the vendor and receive it";
    default:
      return "pick it up and receive it";
  }
}

std::string Words(Step step, const v1::Finding& finding) {
  switch (step) {
    case kCorrectRecords:
      return finding.reason() == v1::REASON_UNIT_UNKNOWN
                 ? "receive it into the fleet"
                 : "put model " + Value(finding, "model") + " into the settings";
    case kGetBack:
      return GetBack(finding);
    case kLiftHold:
      return "settle and lift the " + Value(finding, "kind") + " hold";
    case kClean:
      return "clean it";
    case kErase:
      return "erase the patient data";
    case kRepair:
      return "repair it";
    case kFitParts:
      return "fit the " + Value(finding, "position");
    case kService:
      return "do the planned service";
    case kSetSide:
      return "set it up for the " + Value(finding, "expected") + " side";
    case kInspect:
      return "inspect it";
    case kPutAway:
      return "put it on a clean shelf";
    case kFree:
      return "release the hold for order " + Value(finding, "order");
    default:
      return "take another unit";
  }
}

}  // namespace

std::vector<std::string> PathToReady(const std::vector<v1::Finding>& findings) {
  std::array<std::vector<std::string>, kStepCount> steps;
  const auto add = [&steps](Step step, const v1::Finding& finding) {
    std::vector<std::string>& words = steps[step];
    std::string text = Words(step, finding);
    // The ways to get it back all lead to the same receipt: the first one named is enough.
    if (step == kGetBack && !words.empty()) return;
    if (std::find(words.begin(), words.end(), text) == words.end()) words.push_back(text);
  };
  for (const v1::Finding& finding : findings) {
    for (const Cure& cure : kCures) {
      if (cure.reason == finding.reason()) add(cure.step, finding);
    }
  }
  for (const Consequence& c : kConsequences) {
    if (!steps[c.step].empty()) add(c.then, v1::Finding::default_instance());
  }
  std::vector<std::string> path;
  for (std::vector<std::string>& words : steps) {
    for (std::string& text : words) path.push_back(std::move(text));
  }
  return path;
}

}  // namespace ferrule::unit
