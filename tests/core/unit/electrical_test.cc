// Electrical limits: no verdict without class, applied part and method; equal passes.
//
// The limits are those of IEC 62353 as two public secondary texts give them (a clinical-engineering
// lab sheet and a test-form help text); the standard itself was not read.
#include "core/unit/electrical.h"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include "google/protobuf/text_format.h"
#include "tests/support/folded_depot.h"

namespace ferrule::unit {
namespace {

using ferrule::testing::FoldedDepot;
using ::testing::ElementsAre;
using ::testing::IsEmpty;

constexpr char kProfile[] = R"(id: 'p' version: '1' source: 'secondary texts; not the standard'
  limits { quantity: 'earth-resistance' electrical_class: ELECTRICAL_CLASS_I max: 0.3 }
  limits { quantity: 'equipment-leakage' electrical_class: ELECTRICAL_CLASS_I
           method: MEASURING_METHOD_DIRECT max: 500 }
  limits { quantity: 'equipment-leakage' electrical_class: ELECTRICAL_CLASS_I
           method: MEASURING_METHOD_DIFFERENTIAL max: 500 }
  limits { quantity: 'equipment-leakage' electrical_class: ELECTRICAL_CLASS_I
           method: MEASURING_METHOD_ALTERNATIVE max: 1000 }
  limits { quantity: 'equipment-leakage' electrical_class: ELECTRICAL_CLASS_II
           method: MEASURING_METHOD_DIRECT max: 100 }
  limits { quantity: 'equipment-leakage' electrical_class: ELECTRICAL_CLASS_II
           method: MEASURING_METHOD_DIFFERENTIAL max: 100 }
  limits { quantity: 'equipment-leakage' electrical_class: ELECTRICAL_CLASS_II
           method: MEASURING_METHOD_ALTERNATIVE max: 500 }
  limits { quantity: 'applied-part-leakage' applied_part: APPLIED_PART_CF
           method: MEASURING_METHOD_DIRECT max: 50 }
  limits { quantity: 'applied-part-leakage' applied_part: APPLIED_PART_BF
           method: MEASURING_METHOD_DIRECT max: 5000 }
  limits { quantity: 'insulation' min: 2 })";

v1::ElectricalProfile Profile() {
  v1::ElectricalProfile profile;
  EXPECT_TRUE(google::protobuf::TextFormat::ParseFromString(kProfile, &profile));
  return profile;
}

struct Case {
  const char* quantity;
  Measured measured;
  double max;        // 0 when there is none
  const char* lack;  // what must be stated first
};

TEST(ElectricalLimit, IsTheOneOfClassPartAndMethod) {
  constexpr auto kI = v1::ELECTRICAL_CLASS_I;
  constexpr auto kII = v1::ELECTRICAL_CLASS_II;
  constexpr auto kDirect = v1::MEASURING_METHOD_DIRECT;
  constexpr auto kAlternative = v1::MEASURING_METHOD_ALTERNATIVE;
  const v1::ElectricalProfile profile = Profile();
  for (const Case& c : {
           Case{"equipment-leakage", {kI, {}, kDirect}, 500, ""},
           Case{"equipment-leakage", {kI, {}, v1::MEASURING_METHOD_DIFFERENTIAL}, 500, ""},
           Case{"equipment-leakage", {kI, {}, kAlternative}, 1000, ""},
           Case{"equipment-leakage", {kII, {}, kDirect}, 100, ""},
           Case{"equipment-leakage", {kII, {}, kAlternative}, 500, ""},
           Case{"equipment-leakage", {{}, {}, kDirect}, 0, "the class of protection"},
           Case{"equipment-leakage", {kI, {}, {}}, 0, "the method"},
           Case{"equipment-leakage", {}, 0, "the class of protection"},
           Case{"applied-part-leakage", {{}, v1::APPLIED_PART_BF, kDirect}, 5000, ""},
           Case{"applied-part-leakage", {{}, v1::APPLIED_PART_CF, kDirect}, 50, ""},
           Case{"applied-part-leakage", {kI, {}, kDirect}, 0, "the type of applied part"},
           Case{"applied-part-leakage",
                {kI, v1::APPLIED_PART_B, kDirect},
                0,
                "a limit for this case in profile p"},
           Case{"earth-resistance", {kI, {}, {}}, 0.3, ""},
           Case{"earth-resistance", {kII, {}, {}}, 0, "a limit for this case in profile p"},
           Case{"earth-resistance", {}, 0, "the class of protection"},
           Case{"nothing", {kI, {}, kDirect}, 0, "a limit for this case in profile p"},
       }) {
    const LimitOrLack found = FindLimit(&profile, c.quantity, c.measured);
    EXPECT_EQ(found.lack, c.lack) << c.quantity;
    EXPECT_EQ(found.limit == nullptr ? 0 : found.limit->max(), c.max) << c.quantity;
  }
  EXPECT_EQ(FindLimit(nullptr, "insulation", {}).lack,
            "a profile of electrical limits in the settings");
}

// A depot whose knees are judged by the profile.
FoldedDepot Depot(const std::string& model_says) {
  FoldedDepot d;
  std::string text = ferrule::testing::FoldSettings();
  const std::string model = "models { id: 'knee-a'";
  text.replace(text.find(model), model.size(), model + " " + model_says);
  const std::string items = "items { id: 'earth' unit: 'ohm' max: 0.3 }";
  text.replace(text.find(items), items.size(),
               "electrical_profile: 'p' items { id: 'leakage' unit: 'uA' "
               "electrical: 'equipment-leakage' }");
  d.Settings(-1, text + " electrical_profiles { " + kProfile + " }");
  d.Receive("K-1", 0);
  d.Clean("K-1", 5);
  return d;
}

void Inspect(FoldedDepot* d, int64_t at, const std::string& leakage, const std::string& more) {
  d->Tell(at,
          "inspection_done { unit: 'K-1' checklist: 'knee-check' checklist_version: '1' "
          "readings { item: 'arc' value: 1 } readings { item: 'stop' value: 1 } "
          "readings { item: 'leakage' value: " +
              leakage + " } " + more + " }");
}

TEST(ElectricalVerdict, OfAValueEqualToTheLimitPassesAndOneStepAboveFails) {
  for (const auto& [value, passes] : {std::pair("500", true), std::pair("501", false)}) {
    FoldedDepot d = Depot("electrical_class: ELECTRICAL_CLASS_I");
    Inspect(&d, 10, std::string(value) + " method: MEASURING_METHOD_DIRECT", "tester: 'T-1'");
    EXPECT_EQ(d.Unit("K-1").condition(), passes ? v1::CONDITION_PASSED : v1::CONDITION_FAILED);
    EXPECT_THAT(d.Questions("units/K-1"), IsEmpty());
  }
}

TEST(ElectricalVerdict, IsNotGivenWithoutClassOrMethod) {
  FoldedDepot d = Depot("");
  Inspect(&d, 10, "80 method: MEASURING_METHOD_DIRECT", "tester: 'T-1'");
  EXPECT_EQ(d.Unit("K-1").condition(), v1::CONDITION_UNTESTED);
  EXPECT_THAT(d.Questions("units/K-1"), ElementsAre("ELECTRICAL_NOT_STATED"));
  EXPECT_THAT(d.WhyNot("K-1", 20), ::testing::Contains("ELECTRICAL_NOT_STATED"));
  Inspect(&d, 30, "80", "tester: 'T-1' electrical_class: ELECTRICAL_CLASS_II");
  EXPECT_EQ(d.Unit("K-1").condition(), v1::CONDITION_UNTESTED) << "no method";
  Inspect(&d, 40, "80 method: MEASURING_METHOD_DIRECT",
          "tester: 'T-1' electrical_class: ELECTRICAL_CLASS_II");
  EXPECT_EQ(d.Unit("K-1").condition(), v1::CONDITION_PASSED);
}

TEST(ElectricalVerdict, NeedsTheInstrument) {
  FoldedDepot d = Depot("electrical_class: ELECTRICAL_CLASS_I");
  Inspect(&d, 10, "80 method: MEASURING_METHOD_DIRECT", "");
  EXPECT_THAT(d.Questions("units/K-1"), ElementsAre("TESTER_NOT_STATED"));
  EXPECT_EQ(d.Unit("K-1").condition(), v1::CONDITION_UNTESTED);
}

TEST(ElectricalVerdict, WhatWasReadOnTheUnitComesBeforeTheModel) {
  FoldedDepot d = Depot("electrical_class: ELECTRICAL_CLASS_I");
  Inspect(&d, 10, "101 method: MEASURING_METHOD_DIRECT",
          "tester: 'T-1' electrical_class: ELECTRICAL_CLASS_II");
  EXPECT_EQ(d.Unit("K-1").condition(), v1::CONDITION_FAILED);
}

}  // namespace
}  // namespace ferrule::unit
