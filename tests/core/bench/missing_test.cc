// What is missing, and where it was lost sight of.
#include "core/bench/missing.h"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include "tests/support/folded_depot.h"

namespace ferrule::bench {
namespace {

using ferrule::testing::FoldedDepot;
using ::testing::ElementsAre;

std::vector<std::string> Lines(const FoldedDepot& d) {
  std::vector<std::string> lines;
  const v1::UnitState unit = d.Unit("K-1");
  for (const auto& row : MissingOf(unit, d.book().At(FoldedDepot::Us(0)).FindModel("knee-a"))) {
    lines.push_back(row.position() + " " + v1::LostBetween_Name(row.lost()).substr(13) +
                    (row.order().empty() ? "" : " " + row.order()) +
                    (row.required() ? " required" : ""));
  }
  return lines;
}

FoldedDepot Back(const std::string& pickup, const std::string& dock) {
  FoldedDepot d;
  d.ReadyKnee();
  d.TakeOrder("O-1", 11);
  d.HandOver("K-1", "O-1", 20, "accessories: 'pendant' accessories: 'foot-plate'");
  d.PickUp("K-1", "O-1", 100, pickup);
  d.ReceiveBack("K-1", 110, dock);
  return d;
}

TEST(MissingAccessory, SaidAtTheDoorWasLostWithThePatient) {
  EXPECT_THAT(Lines(Back("accessories: 'pendant' missing: 'foot-plate'", "")),
              ElementsAre("foot-plate SET_OUT_AND_PICKUP O-1"));
}

TEST(MissingAccessory, NotCountedAtTheDoorAmongThoseThatWereIsMissingToo) {
  EXPECT_THAT(Lines(Back("accessories: 'foot-plate'", "")),
              ElementsAre("pendant SET_OUT_AND_PICKUP O-1 required"));
}

TEST(MissingAccessory, CountedAtTheDoorAndNotAtTheDockWasLostOnTheVan) {
  EXPECT_THAT(Lines(Back("accessories: 'pendant' accessories: 'foot-plate'",
                         "accessories_counted: true accessories: 'foot-plate'")),
              ElementsAre("pendant PICKUP_AND_DOCK O-1 required"));
}

TEST(MissingAccessory, TakenOutInTheDepotSaysSinceWhen) {
  FoldedDepot d;
  d.ReadyKnee();
  d.Tell(30, "part_removed { part: 'P-1' unit: 'K-1' position: 'pendant' }");
  EXPECT_THAT(Lines(d), ElementsAre("pendant IN_DEPOT required"));
}

TEST(MissingAccessory, OfACompleteUnitIsNone) {
  EXPECT_TRUE(Lines(Back("accessories: 'pendant' accessories: 'foot-plate'", "")).empty());
}

}  // namespace
}  // namespace ferrule::bench
