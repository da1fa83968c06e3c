// A unit as an assembly: parts in positions, and the side it is set up for.
#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include "tests/support/folded_depot.h"

namespace ferrule::unit {
namespace {

using ::testing::ElementsAre;
using testing::FoldedDepot;
using ::testing::IsEmpty;

TEST(UnitParts, ArriveWithTheUnit) {
  FoldedDepot d;
  d.Receive(
      "K-1", 0, "knee-a",
      "parts { part: 'P-1' position: 'pendant' } parts { part: 'F-1' position: 'foot-plate' }");
  ASSERT_EQ(d.Unit("K-1").parts_size(), 2);
  EXPECT_EQ(d.Unit("K-1").parts(0).position(), "foot-plate") << "by position";
  EXPECT_EQ(d.Unit("K-1").parts(1).part(), "P-1");
}

TEST(UnitParts, ARemovedPartLeavesTheDonorIncompleteFromThatMinute) {
  FoldedDepot d;
  d.ReadyKnee();
  EXPECT_THAT(d.WhyNot("K-1", 15), IsEmpty());
  d.Tell(20, "part_removed { part: 'P-1' unit: 'K-1' position: 'pendant' }");
  EXPECT_THAT(d.Questions("units/K-1"), IsEmpty());
  EXPECT_THAT(d.WhyNot("K-1", 20), ElementsAre("PART_CHANGED_AFTER_INSPECTION", "PART_MISSING"));
  EXPECT_THAT(d.Questions("parts/P-1"), IsEmpty());
}

TEST(UnitParts, AFittedPartVoidsThePass) {
  FoldedDepot d;
  d.ReadyKnee();
  d.Tell(20, "part_fitted { part: 'F-1' unit: 'K-1' position: 'foot-plate' }");
  const std::vector<v1::Finding> why = d.Assess("K-1", 30);
  ASSERT_THAT(testing::Reasons(why), ElementsAre("PART_CHANGED_AFTER_INSPECTION"));
  ASSERT_EQ(why[0].evidence_size(), 2);
  EXPECT_EQ(time::ToMicros(why[0].evidence(0).time()), FoldedDepot::Us(20)) << "the part";
  EXPECT_EQ(time::ToMicros(why[0].evidence(1).time()), FoldedDepot::Us(8)) << "the inspection";
}

TEST(UnitParts, ATakenPositionIsAskedAndTheNewPartIsTheOneInIt) {
  FoldedDepot d;
  d.ReadyKnee();
  d.Tell(20, "part_fitted { part: 'P-2' unit: 'K-1' position: 'pendant' }");
  const v1::SubjectState state = d.State("units/K-1");
  ASSERT_THAT(testing::Reasons(state.questions()), ElementsAre("POSITION_TAKEN"));
  EXPECT_EQ(testing::ValueOf(state.questions(0), "part"), "P-1");
  ASSERT_EQ(state.unit().parts_size(), 1);
  EXPECT_EQ(state.unit().parts(0).part(), "P-2");
}

TEST(UnitParts, APositionReportedMissingIsFreeAndFillingItCuresIt) {
  FoldedDepot d;
  d.ReadyKnee();
  d.TakeOrder("O-1", 1);
  d.HandOver("K-1", "O-1", 20);
  d.PickUp("K-1", "O-1", 100, "missing: 'pendant'");
  d.MakeReady("K-1", 110);
  EXPECT_THAT(d.WhyNot("K-1", 120), ElementsAre("PART_MISSING"));
  d.Tell(130, "part_fitted { part: 'P-2' unit: 'K-1' position: 'pendant' }");
  d.Inspect("K-1", 140);
  EXPECT_THAT(d.Questions("units/K-1"), IsEmpty());
  EXPECT_THAT(d.WhyNot("K-1", 150), IsEmpty());
}

TEST(UnitParts, APositionThatTheModelDoesNotHaveIsAsked) {
  FoldedDepot d;
  d.Receive("K-1", 0);
  d.Tell(10, "part_fitted { part: 'X-1' unit: 'K-1' position: 'antenna' }");
  EXPECT_THAT(d.Questions("units/K-1"), ElementsAre("POSITION_UNKNOWN"));
}

TEST(UnitParts, RemovingWhatIsNotThereIsAsked) {
  FoldedDepot d;
  d.Receive("K-1", 0);
  d.Tell(10, "part_removed { part: 'P-9' unit: 'K-1' position: 'pendant' }");
  EXPECT_THAT(d.Questions("units/K-1"), ElementsAre("PART_NOT_IN_UNIT"));
  EXPECT_EQ(d.Unit("K-1").parts_size(), 1);
}

TEST(UnitParts, FittingTheSamePartAgainIsNoQuestion) {
  FoldedDepot d;
  d.Receive("K-1", 0);
  d.Tell(10, "part_fitted { part: 'P-1' unit: 'K-1' position: 'pendant' }");
  EXPECT_THAT(d.Questions("units/K-1"), IsEmpty());
}

TEST(UnitSide, ChangesOnModelsThatHaveSides) {
  FoldedDepot d;
  d.ReadyShoulder();
  d.Tell(20, "side_configured { unit: 'SH-1' side: SIDE_RIGHT }");
  EXPECT_THAT(d.Questions("units/SH-1"), IsEmpty());
  EXPECT_EQ(d.Unit("SH-1").side(), v1::SIDE_RIGHT);
  d.Receive("K-1", 0);
  d.Tell(20, "side_configured { unit: 'K-1' side: SIDE_RIGHT }");
  EXPECT_THAT(d.Questions("units/K-1"), ElementsAre("MODEL_HAS_NO_SIDES"));
}

}  // namespace
}  // namespace ferrule::unit
