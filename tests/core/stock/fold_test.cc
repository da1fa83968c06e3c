#include "core/stock/fold.h"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <string>

#include "tests/support/folded_depot.h"

namespace ferrule::stock {
namespace {

using ::testing::ElementsAre;
using testing::FoldedDepot;
using ::testing::IsEmpty;

std::string Words(v1::Finding finding) {
  finding::PutIntoWords(absl::UTCTimeZone(), &finding);
  return finding.text();
}

void Fit(FoldedDepot& d, int64_t at, const std::string& unit) {
  d.Tell(at, "part_fitted { part: 'P-9' unit: '" + unit + "' position: 'pendant' }");
}
void Remove(FoldedDepot& d, int64_t at, const std::string& unit) {
  d.Tell(at, "part_removed { part: 'P-9' unit: '" + unit + "' position: 'pendant' }");
}

TEST(StockPart, ComesWithItsUnitAndIsFollowedFromUnitToUnit) {
  FoldedDepot d;
  d.Receive("K-1", 0, "knee-a",
            "parts { part: 'P-8' position: 'foot-plate' } parts { part: 'P-9' position: "
            "'pendant' }");
  v1::PartState part = d.State("parts/P-9").part();
  EXPECT_EQ(part.unit(), "K-1");
  EXPECT_EQ(part.position(), "pendant");
  EXPECT_EQ(time::ToMicros(part.since().time()), FoldedDepot::Us(0));
  Remove(d, 10, "K-1");
  part = d.State("parts/P-9").part();
  EXPECT_EQ(part.unit(), "");
  EXPECT_EQ(part.position(), "");
  EXPECT_EQ(time::ToMicros(part.since().time()), FoldedDepot::Us(10));
  Fit(d, 20, "K-2");
  EXPECT_EQ(d.State("parts/P-9").part().unit(), "K-2");
  EXPECT_THAT(d.Questions("parts/P-9"), IsEmpty());
}

TEST(StockPart, FittedElsewhereWithoutItsRemovalIsAskedAndIsThere) {
  FoldedDepot d;
  Fit(d, 10, "K-1");
  Fit(d, 20, "K-2");
  const v1::SubjectState state = d.State("parts/P-9");
  ASSERT_THAT(testing::Reasons(state.questions()), ElementsAre("PART_IN_OTHER_UNIT"));
  EXPECT_EQ(Words(state.questions(0)),
            "part P-9 is in another unit, K-1 since 2026-03-02 08:10 by tech-ada");
  EXPECT_EQ(state.part().unit(), "K-2");
  // The removal that nobody had entered settles it.
  Remove(d, 15, "K-1");
  EXPECT_THAT(d.Questions("parts/P-9"), IsEmpty());
}

TEST(StockPart, FittedAgainInItsOwnUnitIsNoQuestion) {
  FoldedDepot d;
  Fit(d, 10, "K-1");
  Fit(d, 20, "K-1");
  EXPECT_THAT(d.Questions("parts/P-9"), IsEmpty());
}

TEST(StockPart, RemovedFromAUnitItIsNotInIsAskedAndIsInNone) {
  FoldedDepot d;
  Remove(d, 5, "K-1");
  v1::SubjectState state = d.State("parts/P-9");
  ASSERT_THAT(testing::Reasons(state.questions()), ElementsAre("PART_NOT_IN_UNIT"));
  EXPECT_EQ(Words(state.questions(0)), "part P-9 is not in K-1: the records have it in no unit");
  Fit(d, 1, "K-2");
  state = d.State("parts/P-9");
  ASSERT_THAT(testing::Reasons(state.questions()), ElementsAre("PART_NOT_IN_UNIT"));
  EXPECT_EQ(Words(state.questions(0)), "part P-9 is not in K-1: the records have it in K-2");
  EXPECT_EQ(state.part().unit(), "");
}

TEST(StockLot, KnowsWhichOrdersGotHowManyPieces) {
  FoldedDepot d;
  d.HandOver("K-1", "R-1", 10);
  d.Tell(20,
         "handed_over { unit: 'K-2' order: 'R-2' kit { item: 'pad-set' lot: 'L-1' piece_count: 2 } "
         "kit { item: 'straps' lot: 'L-2' piece_count: 1 } }");
  d.Tell(30,
         "exchanged { order: 'R-1' unit_out: 'K-1' to_place: 'van-dirty' unit_in: 'K-3' "
         "unit_in_model: 'knee-a' kit { item: 'pad-set' lot: 'L-1' piece_count: 1 } }");
  const v1::LotState lot = d.State("lots/L-1").lot();
  EXPECT_EQ(lot.item(), "pad-set");
  EXPECT_EQ(lot.used_count(), 4);
  std::vector<std::string> uses;
  for (const v1::LotUse& use : lot.uses()) {
    uses.push_back(use.order() + " " + std::to_string(use.piece_count()));
  }
  EXPECT_THAT(uses, ElementsAre("R-1 1", "R-2 2", "R-1 1"));
  EXPECT_EQ(time::ToMicros(lot.uses(2).used().time()), FoldedDepot::Us(30));
  EXPECT_EQ(d.State("lots/L-2").lot().used_count(), 1);
  EXPECT_THAT(d.Questions("lots/L-1"), IsEmpty());
}

TEST(StockLot, OfTwoLinesOfOneHandOverCountsBoth) {
  FoldedDepot d;
  d.Tell(20,
         "handed_over { unit: 'K-2' order: 'R-2' kit { item: 'pad-set' lot: 'L-1' piece_count: 2 } "
         "kit { item: 'pad-set' lot: 'L-1' piece_count: 3 } }");
  EXPECT_EQ(d.State("lots/L-1").lot().used_count(), 5);
  EXPECT_EQ(d.State("lots/L-1").lot().uses_size(), 2);
}

TEST(StockLot, UnderAnotherItemIsAskedAndStillCounted) {
  FoldedDepot d;
  d.HandOver("K-1", "R-1", 10);
  d.Tell(
      20,
      "handed_over { unit: 'K-2' order: 'R-2' kit { item: 'straps' lot: 'L-1' piece_count: 2 } }");
  const v1::SubjectState state = d.State("lots/L-1");
  ASSERT_THAT(testing::Reasons(state.questions()), ElementsAre("LOT_ITEM_MISMATCH"));
  EXPECT_EQ(Words(state.questions(0)),
            "lot L-1 does not match its item: recorded as pad-set, given as straps");
  EXPECT_EQ(state.lot().item(), "pad-set");
  EXPECT_EQ(state.lot().used_count(), 3);
}

}  // namespace
}  // namespace ferrule::stock
