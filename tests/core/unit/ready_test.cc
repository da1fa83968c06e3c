// Ready to go: one test a reason, each with the cure that takes it away.
#include "core/unit/ready.h"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include "tests/support/folded_depot.h"

namespace ferrule::unit {
namespace {

using ::testing::Contains;
using ::testing::ElementsAre;
using testing::FoldedDepot;
using ::testing::IsEmpty;

constexpr int64_t kDayMin = 24 * 60;

TEST(UnitReady, AtTheEndOfTheCleanSide) {
  FoldedDepot d;
  d.ReadyKnee();
  EXPECT_THAT(d.WhyNot("K-1", 10), IsEmpty());
  d.ReadyShoulder();
  EXPECT_THAT(d.WhyNot("SH-1", 10), IsEmpty());
}

TEST(UnitReady, AnArrivalListsEveryReasonInTheStatedOrder) {
  FoldedDepot d;
  d.Receive("K-1", 0, "knee-a", "");
  const std::vector<v1::Finding> why = d.Assess("K-1", 1);
  EXPECT_THAT(testing::Reasons(why),
              ElementsAre("NOT_AT_CLEAN_PLACE", "NOT_CLEANED", "MEMORY_NOT_ERASED",
                          "NOT_INSPECTED_SINCE_RETURN", "PART_MISSING"));
  for (size_t i = 1; i < why.size(); ++i) EXPECT_LE(why[i - 1].reason(), why[i].reason());
  for (const v1::Finding& finding : why) {
    EXPECT_EQ(finding.subject(), "units/K-1");
    EXPECT_FALSE(finding.has_fact()) << "nothing has been done wrong";
  }
}

TEST(UnitReady, UnknownUnitsAndModels) {
  FoldedDepot d;
  EXPECT_THAT(d.WhyNot("K-9", 1), ElementsAre("UNIT_UNKNOWN"));
  d.Receive("X-1", 0, "no-such-model", "");
  EXPECT_THAT(d.WhyNot("X-1", 1), Contains("MODEL_UNKNOWN"));
}

TEST(UnitReady, OnlyCleanPlacesOfTheDepotWillDo) {
  const std::pair<const char*, const char*> kPlaces[] = {{"bench", "NOT_AT_CLEAN_PLACE"},
                                                         {"quarantine", "NOT_AT_CLEAN_PLACE"},
                                                         {"vendor", "NOT_IN_CUSTODY"},
                                                         {"van-clean", ""},
                                                         {"closet", ""},
                                                         {"west-shelf", ""}};
  for (const auto& [place, reason] : kPlaces) {
    FoldedDepot d;
    d.ReadyKnee();
    d.Move("K-1", 20, place);
    const std::vector<std::string> why = d.WhyNot("K-1", 30);
    if (*reason == '\0') {
      EXPECT_THAT(why, IsEmpty()) << place;
    } else {
      EXPECT_THAT(why, ElementsAre(reason)) << place;
    }
  }
}

TEST(UnitReady, AUnitAtHomeIsAtHomeAndOnRent) {
  FoldedDepot d;
  d.ReadyKnee();
  d.TakeOrder("O-1", 1);
  d.HandOver("K-1", "O-1", 20);
  EXPECT_THAT(d.WhyNot("K-1", 30), ElementsAre("AT_HOME", "NOT_CLEANED", "ON_RENT"));
}

TEST(UnitReady, AUnitThatIsMissingOrWrittenOffIsNot) {
  FoldedDepot d;
  d.ReadyKnee();
  d.Tell(20, "unit_missing { unit: 'K-1' }");
  EXPECT_THAT(d.WhyNot("K-1", 30), ElementsAre("UNACCOUNTED"));
  d.Tell(40, "unit_written_off { unit: 'K-1' reason: 'lost' approved_by: 'mgr-bo' }");
  EXPECT_THAT(d.WhyNot("K-1", 50), ElementsAre("LEFT_FLEET"));
}

TEST(UnitReady, CleanAfterTheLatestReturnAndNoEarlier) {
  FoldedDepot d;
  d.ReadyKnee();
  d.TakeOrder("O-1", 1);
  d.HandOver("K-1", "O-1", 20);
  d.PickUp("K-1", "O-1", 100);
  d.ReceiveBack("K-1", 120);
  const std::vector<v1::Finding> why = d.Assess("K-1", 130);
  ASSERT_THAT(testing::Reasons(why),
              ElementsAre("NOT_AT_CLEAN_PLACE", "NOT_CLEANED", "MEMORY_NOT_ERASED",
                          "NOT_INSPECTED_SINCE_RETURN"));
  for (size_t i = 1; i < why.size(); ++i) {
    ASSERT_EQ(why[i].evidence_size(), 2) << testing::Reasons(why)[i];
    EXPECT_EQ(time::ToMicros(why[i].evidence(0).time()), FoldedDepot::Us(120)) << "the return";
    EXPECT_LT(time::ToMicros(why[i].evidence(1).time()), FoldedDepot::Us(20)) << "the older one";
  }
}

TEST(UnitReady, AShortCleaningIsNamed) {
  FoldedDepot d;
  d.ReadyKnee();
  d.Move("K-1", 20, "dock");
  d.Clean("K-1", 30, "wipe", 10);
  EXPECT_THAT(d.WhyNot("K-1", 40),
              ElementsAre("NOT_AT_CLEAN_PLACE", "NOT_CLEANED", "WET_TIME_SHORT"));
}

TEST(UnitReady, PatientDataCountsOnlyForModelsThatKeepIt) {
  FoldedDepot d;
  d.Receive("K-1", 0);
  d.Clean("K-1", 6);
  d.Inspect("K-1", 8);
  d.Move("K-1", 9, "shelf");
  EXPECT_THAT(d.WhyNot("K-1", 10), ElementsAre("MEMORY_NOT_ERASED"));
  d.Erase("K-1", 11);
  EXPECT_THAT(d.WhyNot("K-1", 12), IsEmpty());
}

TEST(UnitReady, SoiledAgainOnTheDockNeedsCleaningButNoOtherErasing) {
  FoldedDepot d;
  d.ReadyKnee();
  d.Move("K-1", 20, "dock");
  d.Clean("K-1", 30);
  d.Move("K-1", 31, "shelf");
  EXPECT_THAT(d.WhyNot("K-1", 40), IsEmpty());
}

TEST(UnitReady, AFailedInspectionNamesTheFirstReadingAndListsAll) {
  FoldedDepot d;
  d.ReadyKnee();
  d.Tell(20,
         "inspection_done { unit: 'K-1' checklist: 'knee-check' checklist_version: '1' "
         "readings { item: 'earth' value: 0.35 } readings { item: 'arc' value: 3 } "
         "readings { item: 'stop' value: 1 } }");
  const std::vector<v1::Finding> why = d.Assess("K-1", 30);
  ASSERT_THAT(testing::Reasons(why), ElementsAre("INSPECTION_FAILED"));
  EXPECT_EQ(testing::ValueOf(why[0], "item"), "earth");
  EXPECT_EQ(testing::ValueOf(why[0], "found"), "0.35");
  EXPECT_EQ(testing::ValueOf(why[0], "limit"), "at most 0.3 ohm");
  EXPECT_EQ(testing::ValueOf(why[0], "list"), "earth, arc");
}

TEST(UnitReady, EveryHoldBlocks) {
  FoldedDepot d;
  d.ReadyKnee();
  d.Tell(20, "hold_placed { unit: 'K-1' kind: HOLD_KIND_RECALL reason: 'notice 7' }");
  d.Tell(21, "hold_placed { unit: 'K-1' kind: HOLD_KIND_TESTER_DOUBT reason: 'T-1 drifted' }");
  const std::vector<v1::Finding> why = d.Assess("K-1", 30);
  ASSERT_THAT(testing::Reasons(why), ElementsAre("ON_HOLD", "ON_HOLD"));
  EXPECT_EQ(testing::ValueOf(why[0], "kind"), "recall");
  EXPECT_EQ(testing::ValueOf(why[1], "kind"), "tester doubt");
}

TEST(UnitReady, FreeOrHeldForThisVeryOrder) {
  FoldedDepot d;
  d.ReadyKnee();
  d.Tell(20, "unit_held_for_order { unit: 'K-1' order: 'O-1' }");
  ReadyQuery query;
  query.order = "O-1";
  EXPECT_THAT(d.WhyNot("K-1", 30, query), IsEmpty());
  query.order = "O-2";
  EXPECT_THAT(d.WhyNot("K-1", 30, query), ElementsAre("COMMITTED_TO_OTHER_ORDER"));
  EXPECT_THAT(d.WhyNot("K-1", 30), ElementsAre("COMMITTED_TO_OTHER_ORDER")) << "for any";
}

TEST(UnitReady, AFirmPromiseIsAnotherReasonThanAHold) {
  FoldedDepot d;
  d.ReadyKnee();
  d.Tell(20, "unit_held_for_order { unit: 'K-1' order: 'O-1' firm: true }");
  ReadyQuery query;
  query.order = "O-2";
  const std::vector<v1::Finding> why = d.Assess("K-1", 30, query);
  ASSERT_THAT(testing::Reasons(why), ElementsAre("FIRMLY_PROMISED"));
  EXPECT_EQ(testing::ValueOf(why[0], "order"), "O-1");
  EXPECT_THAT(PathToReady(why), ElementsAre("release the hold for order O-1"));
  query.order = "O-1";
  EXPECT_THAT(d.WhyNot("K-1", 30, query), IsEmpty());
}

TEST(UnitReady, DemonstrationUnitsAndLoanersDoNotGoOutAndRentedInOnesDo) {
  const std::pair<const char*, bool> kPurposes[] = {{"PURPOSE_RENTAL", true},
                                                    {"PURPOSE_CROSS_RENTED", true},
                                                    {"PURPOSE_DEMONSTRATION", false},
                                                    {"PURPOSE_LOANER", false}};
  for (const auto& [purpose, ready] : kPurposes) {
    FoldedDepot d;
    d.Receive("K-1", 0, "knee-a",
              std::string("parts { part: 'P-1' position: 'pendant' } purpose: ") + purpose);
    d.MakeReady("K-1", 5);
    EXPECT_EQ(d.WhyNot("K-1", 20).empty(), ready) << purpose;
  }
}

TEST(UnitReady, TheSideMattersOnModelsThatHaveSides) {
  FoldedDepot d;
  d.ReadyShoulder();
  ReadyQuery query;
  query.side = v1::SIDE_LEFT;
  EXPECT_THAT(d.WhyNot("SH-1", 20, query), IsEmpty());
  query.side = v1::SIDE_RIGHT;
  EXPECT_THAT(d.WhyNot("SH-1", 20, query), ElementsAre("WRONG_SIDE"));
  d.Tell(30, "side_configured { unit: 'SH-1' side: SIDE_EITHER }");
  EXPECT_THAT(d.WhyNot("SH-1", 40, query), IsEmpty());
  d.ReadyKnee();
  EXPECT_THAT(d.WhyNot("K-1", 40, query), IsEmpty()) << "a knee has no side";
}

TEST(UnitReady, TheClassMustBeTheOneOrdered) {
  FoldedDepot d;
  d.ReadyKnee();
  ReadyQuery query;
  query.device_class = "shoulder";
  EXPECT_THAT(d.WhyNot("K-1", 20, query), ElementsAre("WRONG_CLASS"));
}

TEST(UnitReady, ServiceDueByDate) {
  // Every 180 days; received 2026-03-02, so the last day is 2026-08-29.
  FoldedDepot d;
  d.ReadyKnee();
  EXPECT_THAT(d.WhyNot("K-1", 180 * kDayMin), IsEmpty());
  const std::vector<v1::Finding> why = d.Assess("K-1", 181 * kDayMin);
  ASSERT_THAT(testing::Reasons(why), ElementsAre("SERVICE_DUE"));
  EXPECT_EQ(testing::ValueOf(why[0], "due"), "2026-08-29");
  EXPECT_EQ(testing::ValueOf(why[0], "basis"), "days");
  d.Tell(181 * kDayMin, "service_done { unit: 'K-1' plan: 'knee-plan' }");
  EXPECT_THAT(d.WhyNot("K-1", 182 * kDayMin), IsEmpty());
}

TEST(UnitReady, ServiceDueBeforeTheExpectedReturn) {
  FoldedDepot d;
  d.ReadyKnee();
  ReadyQuery query;
  query.expected_return_us = FoldedDepot::Us(180 * kDayMin);
  EXPECT_THAT(d.WhyNot("K-1", 170 * kDayMin, query), IsEmpty());
  query.expected_return_us = FoldedDepot::Us(181 * kDayMin);
  EXPECT_THAT(d.WhyNot("K-1", 170 * kDayMin, query), ElementsAre("SERVICE_DUE_BEFORE_RETURN"));
}

TEST(UnitReady, ServiceDueBeforeTheExpectedReturnByProjectedHours) {
  FoldedDepot d;
  d.Receive("K-1", 0, "knee-a", "parts { part: 'P-1' position: 'pendant' } meter_s: 0");
  d.MakeReady("K-1", 5);
  d.Tell(60 * kDayMin, "meter_read { unit: 'K-1' reading_s: 3240000 }");  // 900 h
  ReadyQuery query;
  query.expected_return_us = FoldedDepot::Us(80 * kDayMin);
  query.expected_use_s_per_day = 5 * 3600;  // 20 days of 5 h: 1000 h exactly
  EXPECT_THAT(d.WhyNot("K-1", 60 * kDayMin, query), IsEmpty());
  query.expected_use_s_per_day = 5 * 3600 + 360;
  EXPECT_THAT(d.WhyNot("K-1", 60 * kDayMin, query), ElementsAre("SERVICE_DUE_BEFORE_RETURN"));
}

}  // namespace
}  // namespace ferrule::unit
