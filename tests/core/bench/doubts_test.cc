// Results in doubt, ranked by where the units are now.
#include "core/bench/doubts.h"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include "tests/support/folded_depot.h"

namespace ferrule::bench {
namespace {

using ferrule::testing::FoldedDepot;
using ::testing::ElementsAre;

std::vector<v1::DoubtRow> RowsOf(const FoldedDepot& d, const SupposedDoubt* supposed) {
  std::map<std::string, v1::TesterState> testers;
  testers["T-1"] = d.State("testers/T-1").tester();
  DoubtfulPasses passes(d.book(), testers, supposed);
  Replay("units/K-1", d.FactsOf("units/K-1"), d.book(),
         [&](const Moment& moment) { passes.Visit(moment); });
  return passes.Rows(d.Unit("K-1"));
}

// Inspected by T-1 at minute 8, out with O-1 from minute 20.
FoldedDepot OutWithDoubt() {
  FoldedDepot d;
  d.Tell(0, "tester_calibrated { tester: 'T-1' due_date { year: 2027 month: 3 day: 1 } }");
  d.ReadyKnee();
  d.TakeOrder("O-1", 11);
  d.HandOver("K-1", "O-1", 20);
  return d;
}

TEST(DoubtfulPasses, OfATrustedTesterAreNone) {
  EXPECT_TRUE(RowsOf(OutWithDoubt(), nullptr).empty());
}

TEST(DoubtfulPasses, OfASupposedWindowSayWhereTheUnitIsAndWhoHadIt) {
  const SupposedDoubt window{"T-1", FoldedDepot::Us(8), FoldedDepot::Us(9)};
  const auto rows = RowsOf(OutWithDoubt(), &window);
  ASSERT_EQ(rows.size(), 1u);
  EXPECT_EQ(rows[0].kind(), v1::DOUBT_KIND_TESTER_DOUBTED);
  EXPECT_EQ(rows[0].rank(), 1) << "at a home";
  EXPECT_EQ(rows[0].order(), "O-1");
  EXPECT_THAT(rows[0].orders_since(), ElementsAre("O-1"));
  EXPECT_NEAR(rows[0].margin_share(), 1.0 / 3, 1e-9) << "0.2 of 0.3 ohm";
  const SupposedDoubt earlier{"T-1", FoldedDepot::Us(7), FoldedDepot::Us(8)};
  EXPECT_TRUE(RowsOf(OutWithDoubt(), &earlier).empty()) << "the end does not belong to it";
}

TEST(DoubtfulPasses, AreSettledByALaterPassOfATrustedTester) {
  FoldedDepot d = OutWithDoubt();
  d.PickUp("K-1", "O-1", 100);
  d.MakeReady("K-1", 110);
  const SupposedDoubt window{"T-1", FoldedDepot::Us(8), FoldedDepot::Us(9)};
  const auto rows = RowsOf(d, &window);
  ASSERT_EQ(rows.size(), 1u);
  EXPECT_EQ(rows[0].rank(), 5);
  EXPECT_EQ(time::ToMicros(rows[0].settled().time()), FoldedDepot::Us(113));
  EXPECT_THAT(rows[0].orders_since(), ElementsAre("O-1")) << "who had it stays to be told";
}

TEST(DoubtfulPasses, OfATesterPastItsDateAreNamed) {
  FoldedDepot d;
  d.Tell(-10, "tester_calibrated { tester: 'T-1' due_date { year: 2026 month: 3 day: 1 } }");
  d.ReadyKnee();  // on 2026-03-02
  const auto rows = RowsOf(d, nullptr);
  ASSERT_EQ(rows.size(), 1u);
  EXPECT_EQ(rows[0].kind(), v1::DOUBT_KIND_TESTER_OUT_OF_DATE);
  EXPECT_EQ(rows[0].rank(), 3) << "ready on the shelf";
}

Standing At(const std::string& unit, const std::string& place, v1::PlaceKind kind, bool clean) {
  Standing standing;
  standing.unit = unit;
  standing.place = place;
  standing.kind = kind;
  standing.clean = clean;
  standing.state.set_unit(unit);
  standing.state.set_custody(v1::CUSTODY_PLACE);
  return standing;
}

std::vector<std::string> Lines(const std::vector<v1::DoubtRow>& rows) {
  std::vector<std::string> lines;
  for (const v1::DoubtRow& row : rows) {
    lines.push_back(row.unit() + " beside " + row.beside_unit() + " " +
                    v1::DoubtKind_Name(row.kind()).substr(11));
  }
  return lines;
}

TEST(BesideSoiled, ACleanUnitOnAShelfWithASoiledOneIsInDoubt) {
  constexpr auto kShelf = v1::PLACE_KIND_CLEAN_SHELF;
  EXPECT_THAT(
      Lines(BesideSoiled({At("K-1", "shelf", kShelf, true), At("K-2", "shelf", kShelf, false),
                          At("K-3", "other", kShelf, true)})),
      ElementsAre("K-1 beside K-2 BESIDE_SOILED"));
}

TEST(BesideSoiled, ASealedBagKeepsSoilOutButNotTheQuestionOfInsects) {
  constexpr auto kShelf = v1::PLACE_KIND_CLEAN_SHELF;
  Standing sealed = At("K-1", "shelf", kShelf, true);
  sealed.sealed = true;
  Standing soiled = At("K-2", "shelf", kShelf, false);
  EXPECT_TRUE(BesideSoiled({sealed, soiled}).empty());
  soiled.infested = true;
  EXPECT_THAT(Lines(BesideSoiled({sealed, soiled})), ElementsAre("K-1 beside K-2 BESIDE_INFESTED"));
}

TEST(BesideSoiled, InsectsOnTheSoiledSideOfAVanConcernItsCleanSide) {
  Standing clean = At("K-1", "van1-clean", v1::PLACE_KIND_VAN_CLEAN, true);
  Standing soiled = At("K-2", "van1-dirty", v1::PLACE_KIND_VAN_DIRTY, false);
  EXPECT_TRUE(BesideSoiled({clean, soiled}).empty()) << "a partition keeps soil apart";
  soiled.infested = true;
  EXPECT_THAT(Lines(BesideSoiled({clean, soiled})), ElementsAre("K-1 beside K-2 BESIDE_INFESTED"));
  Standing elsewhere = At("K-3", "van2-clean", v1::PLACE_KIND_VAN_CLEAN, true);
  EXPECT_TRUE(BesideSoiled({elsewhere, soiled}).empty());
}

TEST(BesideSoiled, WhereSoiledUnitsBelongNothingIsAsked) {
  EXPECT_TRUE(BesideSoiled({At("K-1", "dock", v1::PLACE_KIND_DOCK, true),
                            At("K-2", "dock", v1::PLACE_KIND_DOCK, false)})
                  .empty());
}

TEST(MoreRisky, IsTheOneAtHomeWithTheLeastMargin) {
  v1::DoubtRow home;
  home.set_rank(1);
  home.set_margin_share(0.5);
  v1::DoubtRow close = home;
  close.set_margin_share(0.01);
  v1::DoubtRow shelf;
  shelf.set_rank(3);
  EXPECT_TRUE(MoreRisky(close, home));
  EXPECT_TRUE(MoreRisky(home, shelf));
}

}  // namespace
}  // namespace ferrule::bench
