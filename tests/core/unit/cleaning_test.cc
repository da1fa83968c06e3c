// Steps, labels and contact; what ends a quarantine.
#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include "tests/support/folded_depot.h"

namespace ferrule::unit {
namespace {

using ferrule::testing::FoldedDepot;
using ::testing::ElementsAre;
using ::testing::IsEmpty;

std::string Step(const std::string& step, const std::string& unit = "K-1") {
  return "cleaning_step_done { unit: '" + unit + "' step: CLEANING_STEP_" + step + " }";
}

// Settings in which knees are cleaned step by step.
std::string WithSteps() {
  std::string text = ferrule::testing::FoldSettings();
  const std::string model = "models { id: 'knee-a'";
  return text.replace(text.find(model), model.size(),
                      model +
                          " cleaning_steps: CLEANING_STEP_PREPARATION "
                          "cleaning_steps: CLEANING_STEP_WASHING "
                          "cleaning_steps: CLEANING_STEP_DISINFECTION "
                          "cleaning_steps: CLEANING_STEP_DRYING");
}

// CDC 2008 guideline as quoted in its recommendations: the label's contact time counts, and
// studies show an effect from one minute on; 59 s never passes any label.
TEST(UnitCleaning, FiftyNineSecondsNeverPassAndSixtyOnlyByASixtySecondLabel) {
  for (const char* product : {"wipe", "foam"}) {
    FoldedDepot d;
    d.Receive("K-1", 0);
    d.Clean("K-1", 10, product, 59);
    EXPECT_EQ(d.Unit("K-1").cleaning_failed_because(), v1::REASON_WET_TIME_SHORT) << product;
    d.Clean("K-1", 20, product, 60);
    EXPECT_EQ(d.Unit("K-1").hygiene() == v1::HYGIENE_CLEANED, product == std::string("wipe"));
  }
}

TEST(UnitCleaning, IsJudgedByTheLabelInForceThatDay) {
  FoldedDepot d;
  std::string later = ferrule::testing::FoldSettings();
  const std::string label = "id: 'wipe' contact_time_s: 60";
  d.Settings(60, later.replace(later.find(label), label.size(), "id: 'wipe' contact_time_s: 120"));
  d.Receive("K-1", 0);
  d.Clean("K-1", 10, "wipe", 60);
  EXPECT_EQ(d.Unit("K-1").hygiene(), v1::HYGIENE_CLEANED);
  d.ReceiveBack("K-1", 70);
  d.Clean("K-1", 80, "wipe", 60);
  EXPECT_EQ(d.Unit("K-1").hygiene(), v1::HYGIENE_SOILED);
}

TEST(UnitCleaning, WithAnotherDilutionThanTheLabelsCleansNothing) {
  FoldedDepot d;
  d.Receive("K-1", 0);
  d.Tell(5, Step("WASHING"));
  d.Clean("K-1", 10, "strong", 60, "dilution: '1:128'");
  EXPECT_EQ(d.Unit("K-1").cleaning_failed_because(), v1::REASON_DILUTION_NOT_AS_LABELLED);
  d.Clean("K-1", 20, "strong");
  EXPECT_EQ(d.Unit("K-1").hygiene(), v1::HYGIENE_SOILED) << "not stated";
  d.Clean("K-1", 30, "strong", 60, "dilution: '1:64'");
  EXPECT_EQ(d.Unit("K-1").hygiene(), v1::HYGIENE_CLEANED);
}

TEST(UnitCleaning, WithAProductForCleanSurfacesNeedsWashingFirst) {
  FoldedDepot d;
  d.Receive("K-1", 0);
  d.Clean("K-1", 10, "strong", 60, "dilution: '1:64'");
  EXPECT_THAT(d.Questions("units/K-1"), ElementsAre("CLEANING_STEP_MISSING"));
  EXPECT_EQ(d.Unit("K-1").hygiene(), v1::HYGIENE_SOILED);
}

// ISO 17664-2:2021, scope: a) preparation b) cleaning c) disinfection d) drying e) inspection.
TEST(CleaningSteps, DisinfectionBeforeWashingIsOutOfOrder) {
  FoldedDepot d;
  d.Receive("K-1", 0);
  d.Tell(5, Step("DISINFECTION"));
  EXPECT_THAT(d.Questions("units/K-1"), ElementsAre("CLEANING_STEP_OUT_OF_ORDER"));
  EXPECT_THAT(d.Unit("K-1").cleaning_steps(), IsEmpty());
}

TEST(CleaningSteps, WetBeforeItWasWashedDoesNotCount) {
  FoldedDepot d;
  d.Receive("K-1", 0);
  d.Tell(10, Step("WASHING"));
  d.Clean("K-1", 11, "wipe", 120);  // wet from minute 9
  EXPECT_THAT(d.Questions("units/K-1"), ElementsAre("CLEANING_STEP_OUT_OF_ORDER"));
  EXPECT_EQ(d.Unit("K-1").hygiene(), v1::HYGIENE_SOILED);
  EXPECT_THAT(d.WhyNot("K-1", 20), ::testing::Contains("CLEANING_STEP_OUT_OF_ORDER"));
}

TEST(CleaningSteps, ThatTheModelAsksForMustAllBeThere) {
  FoldedDepot d;
  d.Settings(-1, WithSteps());
  d.Receive("K-1", 0);
  d.Tell(1, Step("PREPARATION"));
  d.Tell(2, Step("WASHING"));
  d.Clean("K-1", 10);
  EXPECT_THAT(d.Questions("units/K-1"), ElementsAre("CLEANING_STEP_MISSING")) << "drying";
  d.Tell(11, Step("DRYING"));
  d.Clean("K-1", 20);
  EXPECT_EQ(d.Unit("K-1").hygiene(), v1::HYGIENE_CLEANED);
}

TEST(CleaningSteps, TakenAgainMakeTheLaterOnesVoid) {
  FoldedDepot d;
  d.Receive("K-1", 0);
  d.Tell(1, Step("WASHING"));
  d.Tell(2, Step("DRYING"));
  d.Tell(3, Step("WASHING"));
  ASSERT_EQ(d.Unit("K-1").cleaning_steps_size(), 1);
  EXPECT_EQ(d.Unit("K-1").cleaning_steps(0).step(), v1::CLEANING_STEP_WASHING);
}

TEST(CleaningSteps, OfBeforeTheReturnAreForgotten) {
  FoldedDepot d;
  d.Receive("K-1", 0);
  d.Tell(1, Step("WASHING"));
  d.ReceiveBack("K-1", 5);
  EXPECT_THAT(d.Unit("K-1").cleaning_steps(), IsEmpty());
}

TEST(CleaningSteps, OfAnIncidentUnitAreAsked) {
  FoldedDepot d;
  d.Receive("K-1", 0);
  d.Tell(1, "hold_placed { unit: 'K-1' kind: HOLD_KIND_INCIDENT reason: 'burn alleged' }");
  d.Tell(2, Step("WASHING"));
  EXPECT_THAT(d.Questions("units/K-1"), ElementsAre("INCIDENT_NOT_TO_BE_CLEANED"));
}

TEST(UnitContact, SoilsACleanUnitAndSaysBesideWhat) {
  FoldedDepot d;
  d.ReadyKnee();
  d.Tell(20, "contact_noted { unit: 'K-1' beside_unit: 'K-2' evidence: 'cover open' }");
  EXPECT_THAT(d.WhyNot("K-1", 30), ElementsAre("NOT_CLEANED", "SOILED_BY_CONTACT"));
  EXPECT_THAT(d.Questions("units/K-1"), IsEmpty());
  d.Clean("K-1", 40);
  EXPECT_THAT(d.WhyNot("K-1", 50), IsEmpty()) << "the pass stands";
}

TEST(UnitContact, OfASoiledUnitChangesNothing) {
  FoldedDepot d;
  d.Receive("K-1", 0);
  d.Tell(5, "contact_noted { unit: 'K-1' evidence: 'seal broken' }");
  EXPECT_FALSE(d.Unit("K-1").has_contact());
}

constexpr char kFound[] = "hold_placed { unit: 'K-1' kind: HOLD_KIND_INFESTATION reason: 'seen' }";
std::string Heat(int64_t minutes, double celsius) {
  const int64_t to_s = FoldedDepot::Us(200) / 1'000'000;
  return "treatment_done { unit: 'K-1' treatment: 'heat' temperature_c: " +
         std::to_string(celsius) + " from_time { seconds: " + std::to_string(to_s - minutes * 60) +
         " } to_time { seconds: " + std::to_string(to_s) + " } }";
}
std::string Lift(const std::string& more = "inspected_by: 'tech-bo'") {
  return "hold_lifted { unit: 'K-1' kind: HOLD_KIND_INFESTATION outcome: 'clear' " + more + " }";
}

TEST(Quarantine, IsNotLiftedByWaiting) {
  FoldedDepot d;
  d.Receive("K-1", 0);
  d.Tell(10, kFound);
  d.Tell(400 * 24 * 60, Lift());
  EXPECT_THAT(d.Questions("units/K-1"), ElementsAre("NOT_TREATED"));
  EXPECT_EQ(d.Unit("K-1").holds_size(), 1) << "a year is no treatment";
}

TEST(Quarantine, EndsWithATreatmentAndALookAtIt) {
  FoldedDepot d;
  d.Receive("K-1", 0);
  d.Tell(10, kFound);
  d.Tell(200, Heat(90, 50));  // equal to both limits
  d.Tell(210, Lift(""));
  EXPECT_THAT(d.Questions("units/K-1"), ElementsAre("RELEASE_NOT_INSPECTED"));
  EXPECT_EQ(d.Unit("K-1").holds_size(), 1);
  d.Tell(220, Lift());
  EXPECT_EQ(d.Unit("K-1").holds_size(), 0);
  EXPECT_EQ(d.Unit("K-1").hygiene(), v1::HYGIENE_SOILED) << "still to be cleaned";
}

TEST(Quarantine, TooShortOrTooColdIsNoTreatment) {
  for (const std::string& treatment : {Heat(89, 50), Heat(90, 49.9)}) {
    FoldedDepot d;
    d.Receive("K-1", 0);
    d.Tell(10, kFound);
    d.Tell(200, treatment);
    d.Tell(220, Lift());
    EXPECT_THAT(d.Questions("units/K-1"), ElementsAre("TREATMENT_SHORT", "NOT_TREATED"));
  }
}

TEST(Quarantine, ATreatmentAgainstSomethingElseDoesNotCount) {
  FoldedDepot d;
  d.Receive("K-1", 0);
  d.Tell(10, "hold_placed { unit: 'K-1' kind: HOLD_KIND_CONTAMINATION reason: 'blood' }");
  d.Tell(200, Heat(90, 55));
  EXPECT_THAT(d.Questions("units/K-1"), ElementsAre("NOT_CONTAMINATED"));
  d.Tell(220,
         "hold_lifted { unit: 'K-1' kind: HOLD_KIND_CONTAMINATION outcome: 'done' "
         "inspected_by: 'x' }");
  EXPECT_EQ(d.Unit("K-1").holds_size(), 1);
}

TEST(Quarantine, FoundAgainAfterTheTreatmentNeedsAnother) {
  FoldedDepot d;
  d.Receive("K-1", 0);
  d.Tell(10, kFound);
  d.Tell(200, Heat(90, 50));
  d.Tell(205, kFound);
  d.Tell(220, Lift());
  ASSERT_EQ(d.Unit("K-1").holds_size(), 1);
  EXPECT_EQ(time::ToMicros(d.Unit("K-1").holds(0).placed().time()), FoldedDepot::Us(205));
}

TEST(Quarantine, AnUnknownTreatmentIsAsked) {
  FoldedDepot d;
  d.Receive("K-1", 0);
  d.Tell(10, kFound);
  d.Tell(20,
         "treatment_done { unit: 'K-1' treatment: 'smoke' from_time { seconds: 1 } "
         "to_time { seconds: 9 } }");
  EXPECT_THAT(d.Questions("units/K-1"), ElementsAre("TREATMENT_UNKNOWN"));
}

TEST(UnitHolds, OfTwoNoticesEndOneByOne) {
  FoldedDepot d;
  d.ReadyKnee();
  for (const char* notice : {"N-1", "N-2"}) {
    d.Tell(20, std::string("hold_placed { unit: 'K-1' kind: HOLD_KIND_RECALL reason: 'r' "
                           "reference: '") +
                   notice + "' }");
  }
  d.Tell(30, "hold_lifted { unit: 'K-1' kind: HOLD_KIND_RECALL outcome: 'done' }");
  EXPECT_THAT(d.Questions("units/K-1"), ElementsAre("NO_SUCH_HOLD")) << "which of the two?";
  d.Tell(40, "hold_lifted { unit: 'K-1' kind: HOLD_KIND_RECALL outcome: 'done' reference: 'N-2' }");
  ASSERT_EQ(d.Unit("K-1").holds_size(), 1);
  EXPECT_EQ(d.Unit("K-1").holds(0).reference(), "N-1");
}

}  // namespace
}  // namespace ferrule::unit
