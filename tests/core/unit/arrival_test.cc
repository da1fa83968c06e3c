// What is seen at the dock against what went out and what was picked up.
#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include "tests/support/folded_depot.h"

namespace ferrule::unit {
namespace {

using ferrule::testing::FoldedDepot;
using ferrule::testing::ValueOf;
using ::testing::ElementsAre;
using ::testing::IsEmpty;

// Out with pendant and foot plate, and picked up.
FoldedDepot Out(const std::string& picked) {
  FoldedDepot d;
  d.ReadyKnee();
  d.TakeOrder("O-1", 11);
  d.HandOver("K-1", "O-1", 20, "accessories: 'pendant' accessories: 'foot-plate'");
  d.PickUp("K-1", "O-1", 100, picked);
  return d;
}
constexpr char kBoth[] = "accessories: 'pendant' accessories: 'foot-plate'";

TEST(Arrival, OfEverythingThatWasPickedUpIsNotAsked) {
  FoldedDepot d = Out(kBoth);
  d.ReceiveBack("K-1", 110,
                std::string("serial: 'S-K-1' accessories_counted: true parts { part: 'P-1' "
                            "position: 'pendant' } ") +
                    kBoth);
  EXPECT_THAT(d.Questions("units/K-1"), IsEmpty());
  EXPECT_THAT(d.Questions("parts/P-1"), IsEmpty());
  EXPECT_EQ(time::ToMicros(d.State("parts/P-1").part().since().time()), FoldedDepot::Us(0))
      << "it was there all along";
}

TEST(Arrival, WithoutAnAccessoryThatWasPickedUpIsAskedAndIncomplete) {
  FoldedDepot d = Out(kBoth);
  d.ReceiveBack("K-1", 110, "accessories_counted: true accessories: 'pendant'");
  const v1::SubjectState state = d.State("units/K-1");
  ASSERT_THAT(d.Questions("units/K-1"), ElementsAre("ACCESSORY_NOT_BACK"));
  EXPECT_EQ(ValueOf(state.questions(0), "position"), "foot-plate");
  EXPECT_EQ(ValueOf(state.questions(0), "kind"), "counted at the pick-up");
  EXPECT_EQ(time::ToMicros(state.questions(0).evidence(0).time()), FoldedDepot::Us(100));
  EXPECT_THAT(d.WhyNot("K-1", 120), ::testing::Contains("PART_MISSING"));
}

TEST(Arrival, WhereNobodyCountedAtTheDoorIsComparedWithTheSetOut) {
  FoldedDepot d = Out("");
  d.ReceiveBack("K-1", 110, "accessories_counted: true accessories: 'pendant'");
  const v1::SubjectState state = d.State("units/K-1");
  ASSERT_EQ(state.questions_size(), 1);
  EXPECT_EQ(ValueOf(state.questions(0), "kind"), "handed over");
  EXPECT_EQ(ValueOf(state.questions(0), "order"), "O-1");
}

TEST(Arrival, ThatNobodyCountedIsNotAsked) {
  FoldedDepot d = Out(kBoth);
  d.ReceiveBack("K-1", 110);
  EXPECT_THAT(d.Questions("units/K-1"), IsEmpty());
}

TEST(Arrival, AnAccessoryThatWasMissingAtTheDoorAndTurnsUpIsThere) {
  FoldedDepot d = Out("accessories: 'pendant' missing: 'foot-plate'");
  EXPECT_THAT(d.Unit("K-1").missing(), ElementsAre("foot-plate"));
  d.ReceiveBack("K-1", 110, std::string("accessories_counted: true ") + kBoth);
  EXPECT_THAT(d.Questions("units/K-1"), IsEmpty());
  EXPECT_THAT(d.Unit("K-1").missing(), IsEmpty());
}

TEST(Arrival, WithAnotherSerialIsAsked) {
  FoldedDepot d = Out(kBoth);
  d.ReceiveBack("K-1", 110, "serial: 'S-K-2'");
  const v1::SubjectState state = d.State("units/K-1");
  ASSERT_THAT(d.Questions("units/K-1"), ElementsAre("OTHER_SERIAL_SEEN"));
  EXPECT_EQ(ValueOf(state.questions(0), "found"), "S-K-2");
}

TEST(Arrival, WithAnotherUnitsPartAsksBothAndThePartIsWhereItWasSeen) {
  FoldedDepot d = Out(kBoth);
  d.Receive("K-2", 12, "knee-a", "parts { part: 'P-2' position: 'pendant' }");
  d.ReceiveBack("K-1", 110, "parts { part: 'P-2' position: 'pendant' }");
  EXPECT_THAT(d.Questions("units/K-1"), ElementsAre("OTHER_PART_SEEN"));
  const v1::SubjectState part = d.State("parts/P-2");
  ASSERT_THAT(d.Questions("parts/P-2"), ElementsAre("PART_IN_OTHER_UNIT"));
  EXPECT_EQ(ValueOf(part.questions(0), "unit"), "K-2") << "the donor";
  EXPECT_EQ(part.part().unit(), "K-1");
  EXPECT_EQ(d.Unit("K-1").parts(0).part(), "P-2");
}

TEST(Arrival, ANewSetOutBeginsANewCount) {
  FoldedDepot d = Out(kBoth);
  d.ReceiveBack("K-1", 110);
  d.MakeReady("K-1", 120);
  d.TakeOrder("O-2", 130);
  d.HandOver("K-1", "O-2", 140, "accessories: 'pendant'");
  const v1::KitCount kit = d.Unit("K-1").kit();
  EXPECT_EQ(kit.order(), "O-2");
  EXPECT_FALSE(kit.has_pickup());
  EXPECT_THAT(kit.handed_over(), ElementsAre("pendant"));
}

TEST(Donor, IsIncompleteFromTheMinuteOfTheRemoval) {
  FoldedDepot d;
  d.ReadyKnee();
  d.Tell(30, "part_removed { part: 'P-1' unit: 'K-1' position: 'pendant' }");
  EXPECT_THAT(d.WhyNot("K-1", 30), ElementsAre("PART_CHANGED_AFTER_INSPECTION", "PART_MISSING"));
  const std::vector<v1::Finding> why = d.Assess("K-1", 30);
  ASSERT_EQ(why[1].evidence_size(), 1);
  EXPECT_EQ(time::ToMicros(why[1].evidence(0).time()), FoldedDepot::Us(30));
  d.Tell(40, "part_fitted { part: 'P-7' unit: 'K-1' position: 'pendant' }");
  EXPECT_THAT(d.Unit("K-1").parts_out(), IsEmpty());
}

}  // namespace
}  // namespace ferrule::unit
