#include "core/finding/catalog.h"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <set>

#include "core/time/civil.h"

namespace ferrule::finding {
namespace {

using ::testing::HasSubstr;
using ::testing::Not;

std::vector<v1::Reason> Reasons() {
  std::vector<v1::Reason> reasons;
  const auto* type = v1::Reason_descriptor();
  for (int i = 0; i < type->value_count(); ++i) {
    if (type->value(i)->number() != 0) reasons.push_back(v1::Reason(type->value(i)->number()));
  }
  return reasons;
}

// The kind of subject that a reason is usually about does not matter to its words.
v1::Finding Bare(v1::Reason reason, const char* subject) {
  v1::Finding finding;
  finding.set_reason(reason);
  finding.set_subject(subject);
  return finding;
}

v1::Finding Full(v1::Reason reason) {
  v1::Finding finding = Bare(reason, "units/K-0417");
  for (std::string_view key : KeysOf(reason)) {
    if (key.find('.') != std::string_view::npos || key == "subject" || key == "time") continue;
    v1::FindingValue* v = finding.add_values();
    v->set_key(std::string(key));
    v->set_value("<" + std::string(key) + ">");
  }
  time::SetMicros(1'778'664'000'000'000, finding.mutable_time());
  for (const char* who : {"tech-ada", "tech-bo"}) {
    v1::Stamp* stamp = finding.add_evidence();
    stamp->set_actor(who);
    time::SetMicros(1'778'664'000'000'000, stamp->mutable_time());
  }
  return finding;
}

v1::Finding InWords(v1::Finding finding) {
  PutIntoWords(time::Zone("Europe/Berlin").value(), &finding);
  return finding;
}

TEST(Catalog, HasARowForEveryReason) {
  std::set<std::string> texts;
  for (v1::Reason reason : Reasons()) {
    const v1::Finding finding = InWords(Full(reason));
    EXPECT_EQ(ReasonString(reason), v1::Reason_Name(reason).substr(7));
    EXPECT_NE(finding.text(), "K-0417: a rule is broken") << ReasonString(reason);
    EXPECT_GT(finding.text().size(), 15u) << ReasonString(reason);
    EXPECT_GT(finding.remedy().size(), 7u) << ReasonString(reason);
    EXPECT_TRUE(texts.insert(finding.text()).second) << finding.text();
  }
  EXPECT_GT(texts.size(), 70u);
}

TEST(Catalog, ReadsWellWhateverIsKnown) {
  for (v1::Reason reason : Reasons()) {
    for (const v1::Finding& finding :
         {InWords(Full(reason)), InWords(Bare(reason, "units/K-0417")),
          InWords(Bare(reason, "orders/R-1")), InWords(Bare(reason, "parts/P-1"))}) {
      for (const std::string& words : {finding.text(), finding.remedy()}) {
        EXPECT_THAT(words, Not(::testing::ContainsRegex("[][{}|]|  | ,|,,|[ ,:]$|^[ ,:]")))
            << ReasonString(reason);
        EXPECT_NE(words.back(), '.') << words;
      }
    }
  }
}

TEST(Catalog, UsesEveryValueThatItAsksFor) {
  for (v1::Reason reason : Reasons()) {
    const v1::Finding finding = InWords(Full(reason));
    const std::string both = finding.text() + "; " + finding.remedy();
    for (const v1::FindingValue& value : finding.values()) {
      // An alternative that is not needed while a better value is there.
      const bool spare = (reason == v1::REASON_BRANCH_UNKNOWN && value.key() == "item");
      if (spare) continue;
      EXPECT_THAT(both, HasSubstr(value.value())) << ReasonString(reason);
    }
  }
}

TEST(Catalog, AsksOnlyForKeysThatTheHeaderNames) {
  const std::set<std::string_view> kKnown = {
      "unit",       "order",     "part",       "lot",      "place", "from",  "model",
      "class",      "branch",    "position",   "item",     "kind",  "found", "expected",
      "limit",      "due",       "until",      "basis",    "list",  "time",  "subject",
      "newer.when", "newer.who", "older.when", "older.who"};
  for (v1::Reason reason : Reasons()) {
    for (std::string_view key : KeysOf(reason)) {
      EXPECT_EQ(kKnown.count(key), 1u) << ReasonString(reason) << " " << key;
    }
  }
}

TEST(Catalog, GivesOneOfThreeStatusCodes) {
  for (v1::Reason reason : Reasons()) {
    const absl::StatusCode code = CodeOf(reason);
    const bool unknown = std::string(ReasonString(reason)).find("_UNKNOWN") != std::string::npos &&
                         reason != v1::REASON_POSITION_UNKNOWN;
    EXPECT_EQ(code == absl::StatusCode::kNotFound, unknown) << ReasonString(reason);
    EXPECT_TRUE(unknown || code == absl::StatusCode::kFailedPrecondition ||
                code == absl::StatusCode::kInvalidArgument)
        << ReasonString(reason);
  }
}

// Which rules a named person may set aside, for a reader of the trade to check against the reasons
// given in the catalog.
TEST(Overrides, AreAllowedForTheseRulesAndNoOthers) {
  const std::set<v1::Reason> kMay = {
      v1::REASON_NOT_AT_THAT_PLACE,
      v1::REASON_NOT_PICKED_UP,
      v1::REASON_NOT_AT_CLEAN_PLACE,
      v1::REASON_CHECKLIST_NOT_IN_FORCE,
      v1::REASON_NO_REPAIR_OPEN,
      v1::REASON_SERVICE_DUE,
      v1::REASON_SERVICE_DUE_BEFORE_RETURN,
      v1::REASON_COMMITTED_TO_OTHER_ORDER,
      v1::REASON_OUTSIDE_RENTAL_FLEET,
      v1::REASON_METER_FELL,
      v1::REASON_METER_BEYOND_ELAPSED,
      v1::REASON_PART_NOT_IN_UNIT,
      v1::REASON_ORDER_INCOMPLETE,
      v1::REASON_ORDER_HAS_OTHER_UNIT,
      v1::REASON_OLDER_VERSION,
      v1::REASON_KIT_MISSING,
      v1::REASON_EXTENSION_SHORTENS,
      v1::REASON_SIGNATURE_MISSING,
      v1::REASON_STOP_LENGTHENS,
      v1::REASON_NOT_ENOUGH_TO_BILL,
      v1::REASON_MEASURE_IMPLAUSIBLE,
      v1::REASON_ORDER_BEYOND_MODEL,
      v1::REASON_PROMISED_TO_OTHER_ORDER,
      v1::REASON_USAGE_BEYOND_ELAPSED,
      v1::REASON_NOT_THE_MODEL_ASKED_FOR,
      v1::REASON_ACCESSORY_NOT_BACK,
      v1::REASON_OTHER_PART_SEEN,
      v1::REASON_NOT_CONTAMINATED,
      v1::REASON_IN_TRANSIT,
      v1::REASON_NOT_SENT_WITH_TRANSFER,
      v1::REASON_TRANSFER_SHORT,
      v1::REASON_SEAL_DIFFERS,
      v1::REASON_COUNT_APPROVER_COUNTED,
      v1::REASON_RECALL_CLOSED,
      v1::REASON_COMPLAINT_NOT_ANSWERED,
  };
  for (v1::Reason reason : Reasons()) {
    EXPECT_EQ(MayOverride(reason), kMay.count(reason) == 1) << ReasonString(reason);
  }
}

TEST(Wording, OfAUnitRepairedAfterItsInspection) {
  v1::Finding finding = Bare(v1::REASON_REPAIRED_AFTER_INSPECTION, "units/K-0417");
  v1::Stamp* repaired = finding.add_evidence();
  repaired->set_actor("tech-ada");
  time::SetMicros(1'778'664'000'000'000, repaired->mutable_time());  // 09:20 UTC
  v1::Stamp* inspected = finding.add_evidence();
  inspected->set_actor("tech-bo");
  time::SetMicros(1'778'569'800'000'000, inspected->mutable_time());  // 07:10 UTC, the day before
  finding = InWords(finding);
  EXPECT_EQ(finding.text(),
            "K-0417 cannot go out: it was repaired 2026-05-13 11:20 by tech-ada, after its last "
            "inspection 2026-05-12 09:10 by tech-bo");
  EXPECT_EQ(finding.remedy(), "inspect it again");
  finding.clear_evidence();
  EXPECT_EQ(InWords(finding).text(),
            "K-0417 cannot go out: it was repaired, after its last inspection");
}

TEST(Wording, OfASettingBeyondTheOrderSuggestsNoTherapy) {
  v1::Finding finding = Bare(v1::REASON_SETTING_BEYOND_ORDER, "orders/R-1");
  for (const auto& [key, value] : {std::pair("item", "flexion"), std::pair("value", "95 deg"),
                                   std::pair("found", "95 deg"), std::pair("limit", "90 deg")}) {
    v1::FindingValue* v = finding.add_values();
    v->set_key(key);
    v->set_value(value);
  }
  finding = InWords(finding);
  EXPECT_EQ(finding.text(),
            "a setting goes beyond the order: flexion 95 deg, the order gives 90 deg");
  EXPECT_EQ(finding.remedy(),
            "set the device within the order, or get a new order from the prescriber");
}

TEST(Wording, OfAReasonOfALaterReleaseIsStillWords) {
  const v1::Finding finding = InWords(Bare(v1::Reason(9999), "units/K-1"));
  EXPECT_EQ(ReasonString(v1::Reason(9999)), "OTHER");
  EXPECT_EQ(finding.text(), "K-1: a rule is broken");
  EXPECT_FALSE(MayOverride(v1::Reason(9999)));
  EXPECT_EQ(CodeOf(v1::Reason(9999)), absl::StatusCode::kFailedPrecondition);
}

TEST(Wording, ReplacesWordsThatWereThere) {
  v1::Finding finding = Bare(v1::REASON_NOT_CLEANED, "units/K-1");
  finding.set_text("old");
  finding.set_remedy("old");
  finding = InWords(finding);
  EXPECT_EQ(finding.text(), "K-1 has not been cleaned since it last became soiled");
  EXPECT_EQ(finding.remedy(), "clean it");
}

}  // namespace
}  // namespace ferrule::finding
