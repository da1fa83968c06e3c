// Holds, cleaning, erasing, repair, service. Cleaning comes first: ISO 17664-2:2021, scope.
#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include "tests/support/folded_depot.h"

namespace ferrule::unit {
namespace {

using ::testing::ElementsAre;
using testing::FoldedDepot;
using ::testing::IsEmpty;

TEST(UnitCleaning, WetForTheContactTimeIsClean) {
  // 60 s passes a label of 60 s; one second less passes none.
  FoldedDepot d;
  d.Receive("K-1", 0);
  d.Clean("K-1", 10, "wipe", 60, "seal: 'B-17'");
  EXPECT_THAT(d.Questions("units/K-1"), IsEmpty());
  EXPECT_EQ(d.Unit("K-1").hygiene(), v1::HYGIENE_CLEANED);
  EXPECT_EQ(d.Unit("K-1").seal(), "B-17");
}

TEST(UnitCleaning, TooShortIsRecordedAndNotClean) {
  FoldedDepot d;
  d.Receive("K-1", 0);
  d.Tell(5, "cleaning_started { unit: 'K-1' }");
  d.Clean("K-1", 10, "wipe", 59);
  const v1::SubjectState state = d.State("units/K-1");
  ASSERT_THAT(testing::Reasons(state.questions()), ElementsAre("WET_TIME_SHORT"));
  EXPECT_EQ(testing::ValueOf(state.questions(0), "limit"), "60");
  EXPECT_EQ(testing::ValueOf(state.questions(0), "found"), "59");
  EXPECT_EQ(testing::ValueOf(state.questions(0), "item"), "wipe");
  EXPECT_EQ(state.unit().hygiene(), v1::HYGIENE_SOILED);
  EXPECT_EQ(state.unit().cleaning_failed_because(), v1::REASON_WET_TIME_SHORT);
  d.Clean("K-1", 20);
  EXPECT_EQ(d.Unit("K-1").hygiene(), v1::HYGIENE_CLEANED);
  EXPECT_EQ(d.Unit("K-1").cleaning_failed_because(), v1::REASON_UNSPECIFIED);
}

TEST(UnitCleaning, TheLabelOfTheProductCounts) {
  FoldedDepot d;
  d.Receive("K-1", 0);
  d.Clean("K-1", 10, "foam", 120);
  EXPECT_THAT(d.Questions("units/K-1"), ElementsAre("WET_TIME_SHORT"));
  d.Clean("K-1", 30, "potion", 1200);
  EXPECT_THAT(d.Questions("units/K-1"), ElementsAre("WET_TIME_SHORT", "PRODUCT_UNKNOWN"));
  EXPECT_EQ(d.Unit("K-1").hygiene(), v1::HYGIENE_SOILED);
}

TEST(UnitCleaning, AnExpiredProductCleansNothingAndItsLastDayStillDoes) {
  FoldedDepot d;
  d.Receive("K-1", 0);
  d.Clean("K-1", 10, "wipe", 120, "product_expiry_date { year: 2026 month: 3 day: 1 }");
  EXPECT_THAT(d.Questions("units/K-1"), ElementsAre("PRODUCT_EXPIRED"));
  EXPECT_EQ(d.Unit("K-1").hygiene(), v1::HYGIENE_SOILED);
  FoldedDepot e;
  e.Receive("K-1", 0);
  e.Clean("K-1", 10, "wipe", 120, "product_expiry_date { year: 2026 month: 3 day: 2 }");
  EXPECT_THAT(e.Questions("units/K-1"), IsEmpty());
}

TEST(UnitCleaning, ExpiryIsJudgedByTheLocalDayOfTheBranch) {
  // 23:30 UTC on 2 March is already 3 March in Berlin.
  FoldedDepot d;
  d.Receive("K-1", 0);
  d.Clean("K-1", 15 * 60 + 30, "wipe", 120, "product_expiry_date { year: 2026 month: 3 day: 2 }");
  EXPECT_THAT(d.Questions("units/K-1"), ElementsAre("PRODUCT_EXPIRED"));
}

TEST(UnitCleaning, AnIncidentUnitIsKeptAsFound) {
  FoldedDepot d;
  d.Receive("K-1", 0);
  d.Tell(5, "hold_placed { unit: 'K-1' kind: HOLD_KIND_INCIDENT reason: 'burn alleged' }");
  d.Tell(6, "cleaning_started { unit: 'K-1' }");
  d.Clean("K-1", 10);
  d.Erase("K-1", 11);
  d.Tell(12, "repair_opened { unit: 'K-1' complaint: 'smell' }");
  EXPECT_THAT(d.Questions("units/K-1"),
              ElementsAre("INCIDENT_NOT_TO_BE_CLEANED", "INCIDENT_NOT_TO_BE_CLEANED",
                          "INCIDENT_NOT_TO_BE_CLEANED", "INCIDENT_NOT_TO_BE_CLEANED"));
  EXPECT_EQ(d.Unit("K-1").hygiene(), v1::HYGIENE_CLEANED) << "it was done, and is recorded";
}

TEST(UnitCleaning, OfAUnitAtHomeIsAsked) {
  FoldedDepot d;
  d.ReadyKnee();
  d.TakeOrder("O-1", 1);
  d.HandOver("K-1", "O-1", 20);
  d.Clean("K-1", 30);
  EXPECT_THAT(d.Questions("units/K-1"), ElementsAre("AT_HOME"));
}

TEST(UnitHolds, AreLiftedByKind) {
  FoldedDepot d;
  d.ReadyKnee();
  d.Tell(20, "hold_placed { unit: 'K-1' kind: HOLD_KIND_RECALL reason: 'notice 7' }");
  d.Tell(21, "hold_placed { unit: 'K-1' kind: HOLD_KIND_OWNER reason: 'kept back' }");
  d.Tell(30, "hold_lifted { unit: 'K-1' kind: HOLD_KIND_RECALL outcome: 'corrected' }");
  EXPECT_THAT(d.Questions("units/K-1"), IsEmpty());
  ASSERT_EQ(d.Unit("K-1").holds_size(), 1);
  EXPECT_EQ(d.Unit("K-1").holds(0).kind(), v1::HOLD_KIND_OWNER);
  d.Tell(40, "hold_lifted { unit: 'K-1' kind: HOLD_KIND_RECALL outcome: 'again' }");
  EXPECT_THAT(d.Questions("units/K-1"), ElementsAre("NO_SUCH_HOLD"));
}

TEST(UnitHolds, InsectsAndBodyFluidSoilTheUnit) {
  for (const char* kind : {"HOLD_KIND_INFESTATION", "HOLD_KIND_CONTAMINATION"}) {
    FoldedDepot d;
    d.ReadyKnee();
    d.Tell(20, std::string("hold_placed { unit: 'K-1' reason: 'seen' kind: ") + kind + " }");
    EXPECT_EQ(d.Unit("K-1").hygiene(), v1::HYGIENE_SOILED) << kind;
    EXPECT_THAT(d.WhyNot("K-1", 30), ElementsAre("CONTAMINATED", "NOT_CLEANED", "ON_HOLD")) << kind;
  }
}

TEST(UnitRepair, OpeningVoidsThePassAndClosingAsksForAnotherInspection) {
  FoldedDepot d;
  d.ReadyKnee();
  d.Tell(20, "repair_opened { unit: 'K-1' complaint: 'no power' }");
  EXPECT_EQ(d.Unit("K-1").condition(), v1::CONDITION_UNDER_REPAIR);
  EXPECT_EQ(d.Unit("K-1").repair().complaint(), "no power");
  d.Tell(30, "repair_closed { unit: 'K-1' work: 'fuse' }");
  EXPECT_EQ(d.Unit("K-1").condition(), v1::CONDITION_UNTESTED);
  EXPECT_FALSE(d.Unit("K-1").has_repair());
  EXPECT_EQ(d.Unit("K-1").hygiene(), v1::HYGIENE_CLEANED) << "a repair does not soil";
  const std::vector<v1::Finding> why = d.Assess("K-1", 40);
  ASSERT_THAT(testing::Reasons(why), ElementsAre("REPAIRED_AFTER_INSPECTION"));
  ASSERT_EQ(why[0].evidence_size(), 2);
  EXPECT_EQ(time::ToMicros(why[0].evidence(0).time()), FoldedDepot::Us(30)) << "the repair";
  EXPECT_EQ(time::ToMicros(why[0].evidence(1).time()), FoldedDepot::Us(8)) << "the inspection";
  d.Inspect("K-1", 50);
  EXPECT_THAT(d.WhyNot("K-1", 60), IsEmpty());
  EXPECT_THAT(d.Questions("units/K-1"), IsEmpty());
}

TEST(UnitRepair, OfAUnitNotInspectedSinceItsReturnLeavesThatReason) {
  FoldedDepot d;
  d.Receive("K-1", 0);
  d.Clean("K-1", 10);
  d.Tell(20, "repair_opened { unit: 'K-1' complaint: 'no power' }");
  d.Tell(30, "repair_closed { unit: 'K-1' no_fault_found: true }");
  EXPECT_EQ(d.Unit("K-1").untested_because(), v1::REASON_NOT_INSPECTED_SINCE_RETURN);
}

TEST(UnitRepair, AnInspectionDuringTheRepairDoesNotEndIt) {
  FoldedDepot d;
  d.ReadyKnee();
  d.Tell(20, "repair_opened { unit: 'K-1' complaint: 'no power' }");
  d.Inspect("K-1", 25);
  EXPECT_THAT(d.Questions("units/K-1"), ElementsAre("UNDER_REPAIR"));
  EXPECT_EQ(d.Unit("K-1").condition(), v1::CONDITION_UNDER_REPAIR);
  d.Tell(30, "repair_closed { unit: 'K-1' }");
  EXPECT_EQ(d.Unit("K-1").condition(), v1::CONDITION_UNTESTED);
  EXPECT_EQ(d.Unit("K-1").untested_because(), v1::REASON_REPAIRED_AFTER_INSPECTION);
}

TEST(UnitRepair, ClosingWhatWasNeverOpenedIsAskedAndVoidsThePass) {
  FoldedDepot d;
  d.ReadyKnee();
  d.Tell(30, "repair_closed { unit: 'K-1' }");
  EXPECT_THAT(d.Questions("units/K-1"), ElementsAre("NO_REPAIR_OPEN"));
  EXPECT_EQ(d.Unit("K-1").condition(), v1::CONDITION_UNTESTED);
}

TEST(UnitRepair, OpenedTwiceIsAskedAndTheFirstGoesOn) {
  FoldedDepot d;
  d.ReadyKnee();
  d.Tell(20, "repair_opened { unit: 'K-1' complaint: 'no power' }");
  d.Tell(21, "repair_opened { unit: 'K-1' complaint: 'squeaks' }");
  EXPECT_THAT(d.Questions("units/K-1"), ElementsAre("UNDER_REPAIR"));
  EXPECT_EQ(d.Unit("K-1").repair().complaint(), "no power");
}

TEST(UnitService, CountsOnlyByTheModelsPlan) {
  FoldedDepot d;
  d.ReadyKnee();
  d.Tell(20, "service_done { unit: 'K-1' plan: 'knee-plan' }");
  EXPECT_THAT(d.Questions("units/K-1"), IsEmpty());
  EXPECT_EQ(time::ToMicros(d.Unit("K-1").serviced().time()), FoldedDepot::Us(20));
  d.Tell(30, "service_done { unit: 'K-1' plan: 'other-plan' }");
  EXPECT_THAT(d.Questions("units/K-1"), ElementsAre("SERVICE_PLAN_UNKNOWN"));
  EXPECT_EQ(time::ToMicros(d.Unit("K-1").serviced().time()), FoldedDepot::Us(20));
}

std::string Deferred(int day, const std::string& plan = "knee-plan") {
  return "service_deferred { unit: 'K-1' plan: '" + plan +
         "' authority: 'lead-eve' because: 'with the patient' until_date { year: 2026 month: 9 "
         "day: " +
         std::to_string(day) + " } }";
}

TEST(UnitService, PutOffByNameIsNotDueUntilThatDay) {
  FoldedDepot d;
  d.ReadyKnee();  // received 2026-03-02; 180 days end on 2026-08-29
  constexpr int64_t kSeptember10 = 192 * 24 * 60;
  EXPECT_THAT(d.WhyNot("K-1", kSeptember10), ElementsAre("SERVICE_DUE"));
  d.Tell(100, Deferred(10));
  EXPECT_THAT(d.WhyNot("K-1", kSeptember10), IsEmpty()) << "the day itself still counts";
  EXPECT_THAT(d.WhyNot("K-1", kSeptember10 + 24 * 60), ElementsAre("SERVICE_DUE"));
  d.Tell(200, "service_done { unit: 'K-1' plan: 'knee-plan' }");
  EXPECT_FALSE(d.Unit("K-1").has_service_deferred());
}

TEST(UnitService, PutOffByAnotherPlanIsAsked) {
  FoldedDepot d;
  d.ReadyKnee();
  d.Tell(100, Deferred(10, "other-plan"));
  EXPECT_THAT(d.Questions("units/K-1"), ElementsAre("SERVICE_PLAN_UNKNOWN"));
}

TEST(UnitRepair, NamesACauseOfTheSettingsWhereTheyListAny) {
  FoldedDepot d;
  d.Settings(-1, testing::FoldSettings() +
                     " repair_causes { id: 'wear' } repair_causes { id: "
                     "'drop' outside: true }");
  d.ReadyKnee();
  for (const auto& [close, asked] :
       {std::pair("cause: 'wear'", false), std::pair("cause: 'worn'", true), std::pair("", true),
        std::pair("no_fault_found: true", false)}) {
    FoldedDepot e = d;
    e.Tell(20, "repair_opened { unit: 'K-1' complaint: 'no power' }");
    e.Tell(30, std::string("repair_closed { unit: 'K-1' ") + close + " }");
    EXPECT_EQ(!e.Questions("units/K-1").empty(), asked) << close;
  }
}

}  // namespace
}  // namespace ferrule::unit
