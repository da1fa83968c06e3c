#include "core/unit/inspection.h"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <cmath>

#include "tests/support/folded_depot.h"

namespace ferrule::unit {
namespace {

using ::testing::ElementsAre;
using testing::FoldedDepot;
using ::testing::IsEmpty;
using ::testing::SizeIs;

class UnitInspection : public ::testing::Test {
 protected:
  // Judged by the settings in force at minute 0, for a knee.
  Verdict JudgeText(const std::string& text) {
    v1::InspectionDone inspection;
    EXPECT_TRUE(google::protobuf::TextFormat::ParseFromString(text, &inspection));
    return JudgeInspection(inspection);
  }
  Verdict JudgeInspection(const v1::InspectionDone& inspection) {
    const depot::Rules& rules = depot_.book().At(FoldedDepot::Us(0));
    return Judge(inspection, rules.FindModel("knee-a"), rules);
  }
  static std::string Knee(const std::string& earth, const std::string& arc,
                          const std::string& stop) {
    return "checklist: 'knee-check' checklist_version: '1' readings { item: 'earth' value: " +
           earth + " } readings { item: 'arc' value: " + arc +
           " } readings { item: 'stop' value: " + stop + " }";
  }
  FoldedDepot depot_;
};

TEST_F(UnitInspection, AValueEqualToALimitPassesAndOneStepBeyondFails) {
  EXPECT_THAT(JudgeText(Knee("0.3", "2", "1")).failed, IsEmpty());
  EXPECT_THAT(JudgeText(Knee("0.3", "-2", "1")).failed, IsEmpty());
  const Verdict high = JudgeText(Knee("0.301", "2", "1"));
  ASSERT_THAT(high.failed, SizeIs(1));
  EXPECT_EQ(high.failed[0].item(), "earth");
  EXPECT_EQ(high.failed[0].limit(), "at most 0.3 ohm");
  const Verdict low = JudgeText(Knee("0.2", "-2.1", "1"));
  ASSERT_THAT(low.failed, SizeIs(1));
  EXPECT_EQ(low.failed[0].limit(), "at least -2 deg");
}

TEST_F(UnitInspection, AQuestionWithoutLimitsPassesWithYes) {
  EXPECT_THAT(JudgeText(Knee("0.2", "0", "1")).failed, IsEmpty());
  ASSERT_THAT(JudgeText(Knee("0.2", "0", "0")).failed, SizeIs(1));
  EXPECT_EQ(JudgeText(Knee("0.2", "0", "0")).failed[0].limit(), "must be yes");
}

TEST_F(UnitInspection, AReadingThatIsNoNumberFails) {
  v1::InspectionDone inspection;
  ASSERT_TRUE(google::protobuf::TextFormat::ParseFromString(Knee("0.2", "0", "1"), &inspection));
  inspection.mutable_readings(0)->set_value(std::nan(""));
  EXPECT_THAT(JudgeInspection(inspection).failed, SizeIs(1));
}

TEST_F(UnitInspection, AnItemReadTwiceMustPassTwice) {
  EXPECT_THAT(JudgeText(Knee("0.2", "0", "1") + " readings { item: 'earth' value: 0.5 }").failed,
              SizeIs(1));
}

TEST_F(UnitInspection, AMissingReadingDoesNotCount) {
  const Verdict verdict = JudgeText(
      "checklist: 'knee-check' checklist_version: '1' readings { item: 'earth' value: 0.2 }");
  EXPECT_THAT(verdict.unread, ElementsAre("arc", "stop"));
  EXPECT_FALSE(verdict.counts());
}

TEST_F(UnitInspection, OnlyTheModelsChecklistInTheVersionInForceCounts) {
  EXPECT_TRUE(JudgeText(Knee("0.2", "0", "1")).counts());
  v1::InspectionDone inspection;
  inspection.set_checklist("shoulder-check");
  inspection.set_checklist_version("1");
  EXPECT_FALSE(JudgeInspection(inspection).in_force);
  inspection.set_checklist("knee-check");
  inspection.set_checklist_version("0");
  const Verdict verdict = JudgeInspection(inspection);
  EXPECT_FALSE(verdict.in_force);
  EXPECT_EQ(verdict.expected_checklist, "knee-check");
  EXPECT_EQ(verdict.expected_version, "1");
}

TEST(UnitInspectionFold, PassedAndFailedAreComputedFromTheReadings) {
  FoldedDepot d;
  d.Receive("K-1", 0);
  d.Clean("K-1", 10);
  d.Inspect("K-1", 20, "0.4");
  EXPECT_EQ(d.Unit("K-1").condition(), v1::CONDITION_FAILED);
  EXPECT_FALSE(d.Unit("K-1").inspection().passed());
  EXPECT_THAT(d.Questions("units/K-1"), IsEmpty()) << "a failed unit is no broken rule";
  d.Inspect("K-1", 30);
  EXPECT_EQ(d.Unit("K-1").condition(), v1::CONDITION_PASSED);
  EXPECT_TRUE(d.Unit("K-1").inspection().passed());
  EXPECT_THAT(d.Unit("K-1").inspection().failed(), IsEmpty());
}

TEST(UnitInspectionFold, BeforeCleaningDoesNotCount) {
  // Inspection follows cleaning, disinfection and drying: ISO 17664-2:2021, scope.
  FoldedDepot d;
  d.Receive("K-1", 0);
  d.Inspect("K-1", 10);
  d.Clean("K-1", 20);
  EXPECT_THAT(d.Questions("units/K-1"), ElementsAre("NOT_CLEANED"));
  EXPECT_EQ(d.Unit("K-1").condition(), v1::CONDITION_UNTESTED);
  EXPECT_EQ(d.Unit("K-1").untested_because(), v1::REASON_NOT_CLEANED);
}

TEST(UnitInspectionFold, AMissingReadingIsAskedAndTheUnitStaysUntested) {
  FoldedDepot d;
  d.Receive("K-1", 0);
  d.Clean("K-1", 10);
  d.Tell(20,
         "inspection_done { unit: 'K-1' checklist: 'knee-check' checklist_version: '1' "
         "readings { item: 'earth' value: 0.2 } readings { item: 'stop' value: 1 } }");
  const v1::SubjectState state = d.State("units/K-1");
  ASSERT_THAT(testing::Reasons(state.questions()), ElementsAre("READING_MISSING"));
  EXPECT_EQ(testing::ValueOf(state.questions(0), "item"), "arc");
  EXPECT_EQ(state.unit().condition(), v1::CONDITION_UNTESTED);
}

TEST(UnitInspectionFold, ABadReadingFailsEvenWhenOthersAreMissing) {
  FoldedDepot d;
  d.Receive("K-1", 0);
  d.Clean("K-1", 10);
  d.Tell(20,
         "inspection_done { unit: 'K-1' checklist: 'knee-check' checklist_version: '1' "
         "readings { item: 'earth' value: 0.9 } }");
  EXPECT_EQ(d.Unit("K-1").condition(), v1::CONDITION_FAILED);
}

TEST(UnitInspectionFold, IsJudgedByTheVersionInForceThatDay) {
  FoldedDepot d;
  d.Settings(60, testing::FoldSettings("2"));
  d.Receive("K-1", 0);
  d.Clean("K-1", 10);
  d.Erase("K-1", 11);
  d.Inspect("K-1", 20, "0.2", "1");
  d.Move("K-1", 21, "shelf");
  EXPECT_EQ(d.Unit("K-1").condition(), v1::CONDITION_PASSED);
  EXPECT_THAT(d.WhyNot("K-1", 70), IsEmpty()) << "an old decision stays by the old version";
  d.Inspect("K-1", 80, "0.2", "1");
  const v1::SubjectState state = d.State("units/K-1");
  ASSERT_THAT(testing::Reasons(state.questions()), ElementsAre("CHECKLIST_NOT_IN_FORCE"));
  EXPECT_EQ(testing::ValueOf(state.questions(0), "expected"), "knee-check 2");
  EXPECT_THAT(d.WhyNot("K-1", 90), ElementsAre("CHECKLIST_NOT_IN_FORCE"));
}

TEST(UnitInspectionFold, AFailStandsUntilAnInspectionThatCounts) {
  FoldedDepot d;
  d.Receive("K-1", 0);
  d.Clean("K-1", 10);
  d.Inspect("K-1", 20, "0.4");
  d.Tell(30, "inspection_done { unit: 'K-1' checklist: 'knee-check' checklist_version: '1' }");
  EXPECT_EQ(d.Unit("K-1").condition(), v1::CONDITION_FAILED);
  ASSERT_THAT(d.Unit("K-1").inspection().failed(), SizeIs(1));
  EXPECT_EQ(d.Unit("K-1").inspection().failed(0).item(), "earth");
}

}  // namespace
}  // namespace ferrule::unit
