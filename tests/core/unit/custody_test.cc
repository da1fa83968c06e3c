// Where a unit is, who has it and what it is promised to.
#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include "tests/support/folded_depot.h"

namespace ferrule::unit {
namespace {

using ::testing::ElementsAre;
using testing::FoldedDepot;
using ::testing::IsEmpty;

TEST(UnitCustody, ArrivesSoiledUntestedAndFree) {
  FoldedDepot d;
  d.Receive("K-1", 0);
  const v1::UnitState unit = d.Unit("K-1");
  EXPECT_EQ(unit.custody(), v1::CUSTODY_PLACE);
  EXPECT_EQ(unit.place(), "dock");
  EXPECT_EQ(unit.hygiene(), v1::HYGIENE_SOILED);
  EXPECT_EQ(unit.condition(), v1::CONDITION_UNTESTED);
  EXPECT_EQ(unit.untested_because(), v1::REASON_NOT_INSPECTED_SINCE_RETURN);
  EXPECT_EQ(unit.commitment(), v1::COMMITMENT_FREE);
  EXPECT_EQ(unit.serial(), "S-K-1");
  EXPECT_EQ(unit.received().actor(), "tech-ada");
  EXPECT_THAT(d.Questions("units/K-1"), IsEmpty());
}

TEST(UnitCustody, ASecondUnitWithTheSameTagChangesNothing) {
  FoldedDepot d;
  d.ReadyKnee();
  d.Receive("K-1", 30, "shoulder-s", "");
  EXPECT_THAT(d.Questions("units/K-1"), ElementsAre("UNIT_TAG_IN_USE"));
  EXPECT_EQ(d.Unit("K-1").model(), "knee-a");
  EXPECT_EQ(d.Unit("K-1").place(), "shelf");
}

TEST(UnitCustody, AnUnknownUnitGivesOneFindingAFactAndNoNoise) {
  FoldedDepot d;
  d.Clean("K-9", 1, "no-such-product", 1);
  d.Inspect("K-9", 2, "9", "no-such-version");
  d.HandOver("K-9", "O-1", 3, "meter_s: 7");
  d.PickUp("K-9", "O-1", 4);
  d.Tell(5, "part_fitted { part: 'P-1' unit: 'K-9' position: 'nowhere' }");
  d.Tell(6, "part_removed { part: 'P-1' unit: 'K-9' position: 'nowhere' }");
  d.Tell(7, "hold_lifted { unit: 'K-9' kind: HOLD_KIND_RECALL outcome: 'none' }");
  EXPECT_THAT(d.Questions("units/K-9"), ::testing::Each("UNIT_UNKNOWN"));
  EXPECT_EQ(d.State("units/K-9").questions_size(), 7);
  EXPECT_EQ(d.Unit("K-9").custody(), v1::CUSTODY_UNSPECIFIED);
}

TEST(UnitCustody, ALateReceiptMakesTheUnitKnownAllAlong) {
  FoldedDepot d;
  d.Move("K-1", 20, "bench");
  d.Receive("K-1", 0);  // told last, true first
  EXPECT_THAT(d.Questions("units/K-1"), IsEmpty());
  EXPECT_EQ(d.Unit("K-1").place(), "bench");
}

TEST(UnitCustody, MovingFromWhereItIsNotIsAskedAndDoneAllTheSame) {
  FoldedDepot d;
  d.Receive("K-1", 0);
  d.Tell(10, "unit_moved { unit: 'K-1' from_place: 'quarantine' to_place: 'bay' }");
  const v1::SubjectState state = d.State("units/K-1");
  ASSERT_THAT(testing::Reasons(state.questions()), ElementsAre("NOT_AT_THAT_PLACE"));
  EXPECT_EQ(testing::ValueOf(state.questions(0), "found"), "dock");
  EXPECT_EQ(testing::ValueOf(state.questions(0), "from"), "quarantine");
  EXPECT_EQ(state.unit().place(), "bay");
}

TEST(UnitCustody, APlaceThatTheSettingsDoNotKnowIsAsked) {
  FoldedDepot d;
  d.Receive("K-1", 0);
  d.Move("K-1", 10, "attic");
  EXPECT_THAT(d.Questions("units/K-1"), ElementsAre("PLACE_UNKNOWN"));
  EXPECT_EQ(d.Unit("K-1").place(), "attic");
}

TEST(UnitCustody, SoiledIntoACleanPlaceIsAsked) {
  for (const char* place : {"shelf", "van-clean", "closet"}) {
    FoldedDepot d;
    d.Receive("K-1", 0);
    d.Move("K-1", 10, place);
    EXPECT_THAT(d.Questions("units/K-1"), ElementsAre("SOILED_INTO_CLEAN_PLACE")) << place;
  }
}

TEST(UnitCustody, ACleanUnitIsSoiledByASoiledPlaceAndByNoOther) {
  for (const char* place : {"dock", "bay", "van-dirty"}) {
    FoldedDepot d;
    d.ReadyKnee();
    d.Move("K-1", 20, place);
    EXPECT_EQ(d.Unit("K-1").hygiene(), v1::HYGIENE_SOILED) << place;
    EXPECT_EQ(d.Unit("K-1").condition(), v1::CONDITION_PASSED) << place;
  }
  for (const char* place : {"bench", "quarantine", "closet", "van-clean"}) {
    FoldedDepot d;
    d.ReadyKnee();
    d.Move("K-1", 20, place);
    EXPECT_EQ(d.Unit("K-1").hygiene(), v1::HYGIENE_CLEANED) << place;
  }
}

TEST(UnitCustody, HandOverTakesAReadyUnitHomeWithoutAQuestion) {
  FoldedDepot d;
  d.ReadyKnee();
  d.TakeOrder("O-1", 1);
  d.HandOver("K-1", "O-1", 20, "meter_s: 0");
  EXPECT_THAT(d.Questions("units/K-1"), IsEmpty());
  EXPECT_THAT(d.Questions("orders/O-1"), IsEmpty());
  const v1::UnitState unit = d.Unit("K-1");
  EXPECT_EQ(unit.custody(), v1::CUSTODY_HOME);
  EXPECT_EQ(unit.commitment(), v1::COMMITMENT_ON_RENT);
  EXPECT_EQ(unit.order(), "O-1");
  EXPECT_EQ(unit.turn_count(), 1);
  EXPECT_EQ(unit.place(), "shelf") << "the last place it stood at";
}

TEST(UnitCustody, WhatHasHappenedIsNotUndoneByTheRulesThatItBroke) {
  FoldedDepot d;
  d.Receive("K-1", 0);
  d.TakeOrder("O-1", 1);
  d.HandOver("K-1", "O-1", 20);
  EXPECT_THAT(d.Questions("units/K-1"),
              ElementsAre("NOT_AT_CLEAN_PLACE", "NOT_CLEANED", "MEMORY_NOT_ERASED",
                          "NOT_INSPECTED_SINCE_RETURN"));
  EXPECT_EQ(d.Unit("K-1").custody(), v1::CUSTODY_HOME);
  EXPECT_EQ(d.Unit("K-1").commitment(), v1::COMMITMENT_ON_RENT);
}

TEST(UnitCustody, ModelAndSideAreComparedWithWhatWasReadOnTheUnit) {
  FoldedDepot d;
  d.ReadyShoulder();
  d.Tell(20,
         "handed_over { unit: 'SH-1' order: 'O-1' unit_model: 'knee-a' "
         "unit_side: SIDE_RIGHT }");
  const v1::SubjectState state = d.State("units/SH-1");
  ASSERT_THAT(testing::Reasons(state.questions()),
              ElementsAre("UNIT_NOT_AS_RECORDED", "UNIT_NOT_AS_RECORDED"));
  EXPECT_EQ(testing::ValueOf(state.questions(0), "found"), "knee-a");
  EXPECT_EQ(testing::ValueOf(state.questions(1), "expected"), "left");
  EXPECT_EQ(testing::ValueOf(state.questions(1), "found"), "right");
}

TEST(UnitCustody, PickedUpIsSoiledFreeAndUntestedOnTheVan) {
  FoldedDepot d;
  d.ReadyKnee();
  d.TakeOrder("O-1", 1);
  d.HandOver("K-1", "O-1", 20);
  d.PickUp("K-1", "O-1", 1000, "missing: 'pendant' missing: 'pendant'");
  const v1::UnitState unit = d.Unit("K-1");
  EXPECT_EQ(unit.place(), "van-dirty");
  EXPECT_EQ(unit.custody(), v1::CUSTODY_PLACE);
  EXPECT_EQ(unit.commitment(), v1::COMMITMENT_FREE);
  EXPECT_EQ(unit.order(), "");
  EXPECT_EQ(unit.hygiene(), v1::HYGIENE_SOILED);
  EXPECT_EQ(unit.condition(), v1::CONDITION_UNTESTED);
  EXPECT_THAT(unit.missing(), ElementsAre("pendant"));
  EXPECT_THAT(d.Questions("units/K-1"), IsEmpty());
}

TEST(UnitCustody, PickedUpFromAnotherOrdersHomeIsAsked) {
  FoldedDepot d;
  d.ReadyKnee();
  d.TakeOrder("O-1", 1);
  d.HandOver("K-1", "O-1", 20);
  d.PickUp("K-1", "O-2", 1000);
  EXPECT_THAT(d.Questions("units/K-1"), ElementsAre("NOT_AT_THAT_HOME"));
  EXPECT_EQ(d.Unit("K-1").custody(), v1::CUSTODY_PLACE);
}

TEST(UnitCustody, BackWithoutAPickUpIsAskedAndTheLatePickUpSettlesIt) {
  FoldedDepot d;
  d.ReadyKnee();
  d.TakeOrder("O-1", 1);
  d.HandOver("K-1", "O-1", 20);
  d.ReceiveBack("K-1", 1000);
  EXPECT_THAT(d.Questions("units/K-1"), ElementsAre("NOT_PICKED_UP"));
  EXPECT_EQ(d.Unit("K-1").place(), "dock");
  EXPECT_EQ(d.Unit("K-1").commitment(), v1::COMMITMENT_FREE);
  d.PickUp("K-1", "O-1", 990);
  EXPECT_THAT(d.Questions("units/K-1"), IsEmpty());
  EXPECT_EQ(d.Unit("K-1").place(), "dock");
}

TEST(UnitCustody, AFoundUnitComesBackSoiledWithItsHistory) {
  FoldedDepot d;
  d.ReadyKnee();
  d.Tell(20, "unit_missing { unit: 'K-1' evidence: 'last on the shelf' }");
  EXPECT_EQ(d.Unit("K-1").custody(), v1::CUSTODY_UNACCOUNTED);
  d.Tell(30, "unit_written_off { unit: 'K-1' reason: 'lost' approved_by: 'mgr-bo' }");
  EXPECT_EQ(d.Unit("K-1").custody(), v1::CUSTODY_LEFT_FLEET);
  EXPECT_EQ(d.Unit("K-1").commitment(), v1::COMMITMENT_WRITTEN_OFF);
  d.Tell(40, "unit_found { unit: 'K-1' place: 'dock' }");
  const v1::UnitState unit = d.Unit("K-1");
  EXPECT_EQ(unit.custody(), v1::CUSTODY_PLACE);
  EXPECT_EQ(unit.commitment(), v1::COMMITMENT_FREE);
  EXPECT_EQ(unit.hygiene(), v1::HYGIENE_SOILED);
  EXPECT_EQ(unit.condition(), v1::CONDITION_UNTESTED);
  EXPECT_EQ(unit.inspection().checklist(), "knee-check");
  EXPECT_THAT(d.Questions("units/K-1"), IsEmpty());
}

TEST(UnitCustody, WritingOffAPromisedOrLentUnitIsAsked) {
  FoldedDepot d;
  d.ReadyKnee();
  d.Tell(20, "unit_held_for_order { unit: 'K-1' order: 'O-1' }");
  d.Tell(30, "unit_written_off { unit: 'K-1' reason: 'broken' approved_by: 'mgr-bo' }");
  EXPECT_THAT(d.Questions("units/K-1"), ElementsAre("COMMITTED_TO_OTHER_ORDER"));
  EXPECT_EQ(d.Unit("K-1").commitment(), v1::COMMITMENT_WRITTEN_OFF);
  EXPECT_EQ(d.Unit("K-1").order(), "");
}

TEST(UnitCommitment, AHoldForAnotherOrderIsAskedAndOneForTheSameIsNot) {
  FoldedDepot d;
  d.ReadyKnee();
  d.Tell(20, "unit_held_for_order { unit: 'K-1' order: 'O-1' }");
  d.Tell(21, "unit_held_for_order { unit: 'K-1' order: 'O-1' firm: true }");
  EXPECT_THAT(d.Questions("units/K-1"), IsEmpty());
  EXPECT_TRUE(d.Unit("K-1").hold_firm());
  d.Tell(22, "unit_held_for_order { unit: 'K-1' order: 'O-2' }");
  EXPECT_THAT(d.Questions("units/K-1"), ElementsAre("FIRMLY_PROMISED"));
  EXPECT_EQ(d.Unit("K-1").order(), "O-2");
}

TEST(UnitCommitment, AFirmPromiseIsNotSetAsideAndAHoldIs) {
  const std::string by_name =
      " } overrides { rule: REASON_COMMITTED_TO_OTHER_ORDER authority: 'mgr-bo' because: 'urgent' }"
      " overrides { rule: REASON_FIRMLY_PROMISED authority: 'mgr-bo' because: 'urgent' }";
  for (const bool firm : {false, true}) {
    FoldedDepot d;
    d.ReadyKnee();
    d.Tell(20, std::string("unit_held_for_order { unit: 'K-1' order: 'O-1'") +
                   (firm ? " firm: true }" : " }"));
    d.Tell(22, "unit_held_for_order { unit: 'K-1' order: 'O-2'" + by_name);
    const v1::SubjectState state = d.State("units/K-1");
    EXPECT_EQ(state.overrides_size(), firm ? 0 : 1);
    if (firm) {
      ASSERT_THAT(testing::Reasons(state.questions()), ElementsAre("FIRMLY_PROMISED"));
      EXPECT_EQ(testing::ValueOf(state.questions(0), "order"), "O-1");
    } else {
      EXPECT_THAT(d.Questions("units/K-1"), IsEmpty());
    }
  }
}

TEST(UnitCommitment, WritingOffAFirmlyPromisedUnitNeedsItsReleaseFirst) {
  FoldedDepot d;
  d.ReadyKnee();
  d.Tell(20, "unit_held_for_order { unit: 'K-1' order: 'O-1' firm: true }");
  d.Tell(30, "unit_written_off { unit: 'K-1' reason: 'broken' approved_by: 'mgr-bo' }");
  EXPECT_THAT(d.Questions("units/K-1"), ElementsAre("FIRMLY_PROMISED"));
  d.Tell(25, "order_hold_released { unit: 'K-1' order: 'O-1' }");
  EXPECT_THAT(d.Questions("units/K-1"), IsEmpty());
}

TEST(UnitCommitment, ALapsedHoldNoLongerBinds) {
  FoldedDepot d;
  d.ReadyKnee();
  const std::string until = std::to_string(FoldedDepot::Us(60) / 1'000'000);
  d.Tell(20,
         "unit_held_for_order { unit: 'K-1' order: 'O-1' until_time { seconds: " + until + " } }");
  EXPECT_THAT(d.WhyNot("K-1", 59), ElementsAre("COMMITTED_TO_OTHER_ORDER"));
  EXPECT_THAT(d.WhyNot("K-1", 60), IsEmpty());
  d.Tell(70, "unit_held_for_order { unit: 'K-1' order: 'O-2' }");
  EXPECT_THAT(d.Questions("units/K-1"), IsEmpty());
  EXPECT_EQ(d.Unit("K-1").order(), "O-2");
  EXPECT_FALSE(d.Unit("K-1").has_hold_until_time());
}

TEST(UnitCommitment, ReleasingALapsedHoldIsNoMistake) {
  FoldedDepot d;
  d.ReadyKnee();
  const std::string until = std::to_string(FoldedDepot::Us(60) / 1'000'000);
  d.Tell(20,
         "unit_held_for_order { unit: 'K-1' order: 'O-1' until_time { seconds: " + until + " } }");
  d.Tell(70, "order_hold_released { unit: 'K-1' order: 'O-1' }");
  EXPECT_THAT(d.Questions("units/K-1"), IsEmpty());
  EXPECT_EQ(d.Unit("K-1").commitment(), v1::COMMITMENT_FREE);
}

TEST(UnitCommitment, OnlyTheOrderThatHoldsItCanReleaseIt) {
  FoldedDepot d;
  d.ReadyKnee();
  d.Tell(20, "unit_held_for_order { unit: 'K-1' order: 'O-1' }");
  d.Tell(30, "order_hold_released { unit: 'K-1' order: 'O-2' }");
  const v1::SubjectState state = d.State("units/K-1");
  ASSERT_THAT(testing::Reasons(state.questions()), ElementsAre("NOT_HELD_FOR_ORDER"));
  EXPECT_EQ(testing::ValueOf(state.questions(0), "order"), "O-2");
  EXPECT_EQ(state.unit().commitment(), v1::COMMITMENT_HELD);
}

TEST(UnitCommitment, HandOverForTheOrderThatHoldsItEndsTheHold) {
  FoldedDepot d;
  d.ReadyKnee();
  d.TakeOrder("O-1", 1);
  d.Tell(15, "unit_held_for_order { unit: 'K-1' order: 'O-1' firm: true }");
  d.HandOver("K-1", "O-1", 20);
  EXPECT_THAT(d.Questions("units/K-1"), IsEmpty());
  EXPECT_EQ(d.Unit("K-1").commitment(), v1::COMMITMENT_ON_RENT);
  EXPECT_FALSE(d.Unit("K-1").hold_firm());
}

TEST(UnitAliases, AreListedByTheirTextsWithKindAndStamp) {
  FoldedDepot d;
  d.Receive("K-1", 0);
  d.Tell(10, "alias_noted { unit: 'K-1' alias: 'CPM 12' kind: ALIAS_KIND_OLD_TAG }");
  d.Tell(20, "alias_noted { unit: 'K-1' alias: '7' kind: ALIAS_KIND_BOARD_NUMBER }");
  EXPECT_THAT(d.Questions("units/K-1"), IsEmpty());
  const v1::UnitState unit = d.Unit("K-1");
  ASSERT_EQ(unit.aliases_size(), 2);
  EXPECT_EQ(unit.aliases(0).alias(), "7");
  EXPECT_EQ(unit.aliases(0).kind(), v1::ALIAS_KIND_BOARD_NUMBER);
  EXPECT_EQ(unit.aliases(1).alias(), "CPM 12");
  EXPECT_EQ(unit.aliases(1).kind(), v1::ALIAS_KIND_OLD_TAG);
  EXPECT_EQ(time::ToMicros(unit.aliases(1).noted().time()), FoldedDepot::Us(10));
  EXPECT_EQ(unit.aliases(1).noted().actor(), "tech-ada");
}

TEST(UnitAliases, DoNotDependOnTheOrderOfArrival) {
  FoldedDepot d;
  d.Tell(30, "alias_noted { unit: 'K-1' alias: 'A' kind: ALIAS_KIND_BOARD_NUMBER }");
  d.Tell(20, "alias_noted { unit: 'K-1' alias: 'B' kind: ALIAS_KIND_OLD_TAG }");
  const std::string first =
      d.Tell(10, "alias_noted { unit: 'K-1' alias: 'A' kind: ALIAS_KIND_OLD_TAG }");
  d.Receive("K-1", 0);
  EXPECT_THAT(d.Questions("units/K-1"), ElementsAre("ALIAS_ALREADY_NOTED"));
  const v1::UnitState unit = d.Unit("K-1");
  ASSERT_EQ(unit.aliases_size(), 2);
  EXPECT_EQ(unit.aliases(0).alias(), "A");
  EXPECT_EQ(unit.aliases(0).noted().fact().entry_id(), first);
}

TEST(UnitAliases, NotedAgainAreAskedWithTheEarlierNoteAndTheLaterKindHolds) {
  FoldedDepot d;
  d.Receive("K-1", 0);
  d.Tell(10, "alias_noted { unit: 'K-1' alias: '7' kind: ALIAS_KIND_OLD_TAG }");
  d.Tell(20, "alias_noted { unit: 'K-1' alias: '7' kind: ALIAS_KIND_BOARD_NUMBER }");
  const v1::SubjectState state = d.State("units/K-1");
  ASSERT_THAT(testing::Reasons(state.questions()), ElementsAre("ALIAS_ALREADY_NOTED"));
  EXPECT_EQ(testing::ValueOf(state.questions(0), "item"), "7");
  EXPECT_EQ(testing::ValueOf(state.questions(0), "kind"), "old tag");
  ASSERT_EQ(state.questions(0).evidence_size(), 1);
  EXPECT_EQ(time::ToMicros(state.questions(0).evidence(0).time()), FoldedDepot::Us(10));
  ASSERT_EQ(state.unit().aliases_size(), 1);
  EXPECT_EQ(state.unit().aliases(0).kind(), v1::ALIAS_KIND_BOARD_NUMBER);
}

TEST(UnitAliases, MayBeTheSameOnTwoUnitsAndChangeNothingElse) {
  FoldedDepot d;
  d.ReadyKnee();
  d.Receive("K-2", 0, "knee-a", "");
  d.Tell(20, "alias_noted { unit: 'K-1' alias: '7' kind: ALIAS_KIND_BOARD_NUMBER }");
  d.Tell(20, "alias_noted { unit: 'K-2' alias: '7' kind: ALIAS_KIND_BOARD_NUMBER }");
  EXPECT_THAT(d.Questions("units/K-1"), IsEmpty());
  EXPECT_THAT(d.Questions("units/K-2"), IsEmpty());
  EXPECT_THAT(d.WhyNot("K-1", 25), IsEmpty());
  d.Tell(30, "unit_missing { unit: 'K-1' }");
  d.Tell(40, "alias_noted { unit: 'K-1' alias: '8' kind: ALIAS_KIND_OLD_TAG }");
  EXPECT_THAT(d.Questions("units/K-1"), IsEmpty()) << "wherever it is";
}

TEST(UnitExchange, IsTwoCustodyMovesAndOneTurnOfTheUnitThatStays) {
  FoldedDepot d;
  d.ReadyKnee("K-1");
  d.Receive("K-2", 0, "knee-a", "parts { part: 'P-2' position: 'pendant' }");
  d.MakeReady("K-2", 5);
  d.TakeOrder("O-1", 1);
  d.HandOver("K-1", "O-1", 20);
  d.Tell(500,
         "exchanged { order: 'O-1' unit_out: 'K-1' to_place: 'van-dirty' unit_in: 'K-2' "
         "unit_in_model: 'knee-a' unit_in_side: SIDE_LEFT reason: 'no power' }");
  EXPECT_THAT(d.Questions("units/K-1"), IsEmpty());
  EXPECT_THAT(d.Questions("units/K-2"), IsEmpty());
  EXPECT_EQ(d.Unit("K-1").place(), "van-dirty");
  EXPECT_EQ(d.Unit("K-1").commitment(), v1::COMMITMENT_FREE);
  EXPECT_EQ(d.Unit("K-1").condition(), v1::CONDITION_UNTESTED);
  EXPECT_EQ(d.Unit("K-2").custody(), v1::CUSTODY_HOME);
  EXPECT_EQ(d.Unit("K-2").order(), "O-1");
  EXPECT_EQ(d.Unit("K-2").turn_count(), 1);
}

}  // namespace
}  // namespace ferrule::unit
