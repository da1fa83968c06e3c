// Tests core/stock/book.cc, core/stock/closet.cc, core/stock/count.cc, core/stock/recall.cc,
//   core/stock/transfer.cc.
#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <string>

#include "core/stock/book.h"
#include "tests/support/folded_depot.h"

namespace ferrule::stock {
namespace {

using ::testing::ElementsAre;
using testing::FoldedDepot;
using ::testing::IsEmpty;
using ::testing::UnorderedElementsAre;

// The small depot with a store: pads by lot, for one patient each; walkers that are only counted.
class Stores : public ::testing::Test {
 protected:
  Stores() {
    d_.Settings(-60 * 23, testing::FoldSettings() + R"(
      stock_items { id: 'pad-set' single_patient: true }
      stock_items { id: 'strap' }
      stock_items { id: 'walker' tracking: STOCK_TRACKING_BY_COUNT })");
  }
  void StockIn(int64_t at, const std::string& lot, int pieces, const std::string& place = "shelf",
               const std::string& more = "") {
    d_.Tell(at, "stock_received { item: 'pad-set' lot: '" + lot + "' place: '" + place +
                    "' piece_count: " + std::to_string(pieces) + " " + more + " }");
  }
  void Issue(int64_t at, const std::string& lot, const std::string& order,
             const std::string& place = "shelf", int pieces = 1) {
    d_.Tell(at, "stock_issued { item: 'pad-set' lot: '" + lot + "' place: '" + place +
                    "' piece_count: " + std::to_string(pieces) + " order: '" + order + "' }");
  }
  v1::StockBook Book(const std::string& lot) { return d_.State("lots/" + lot).lot().book(); }
  std::vector<std::string> Questions(const std::string& name) { return d_.Questions(name); }

  FoldedDepot d_;
};

TEST_F(Stores, FollowALotFromReceiptToPatient) {
  StockIn(0, "L-1", 10, "shelf", "expiry_date { year: 2027 month: 1 day: 31 }");
  d_.Tell(5,
          "stock_moved { item: 'pad-set' lot: 'L-1' from_place: 'shelf' to_place: 'closet' "
          "piece_count: 4 }");
  Issue(10, "L-1", "R-1");
  d_.Tell(12,
          "stock_discarded { item: 'pad-set' lot: 'L-1' place: 'closet' piece_count: 1 reason: "
          "'torn' }");
  const v1::StockBook book = Book("L-1");
  EXPECT_EQ(PiecesAt(book, "shelf"), 5);
  EXPECT_EQ(PiecesAt(book, "closet"), 3);
  EXPECT_EQ(PiecesOnShelves(book), 8);
  EXPECT_EQ(book.received_count(), 10);
  EXPECT_EQ(book.issued_count(), 1);
  EXPECT_EQ(book.discarded_count(), 1);
  EXPECT_EQ(book.last_order(), "R-1");
  EXPECT_EQ(d_.State("lots/L-1").lot().uses_size(), 1);
  EXPECT_THAT(Questions("lots/L-1"), IsEmpty());
}

TEST_F(Stores, AKitComesFromTheFullestPlaceUnlessItIsNamed) {
  StockIn(0, "L-1", 3, "shelf");
  d_.Tell(1,
          "stock_moved { item: 'pad-set' lot: 'L-1' from_place: 'shelf' to_place: 'closet' "
          "piece_count: 1 }");
  d_.HandOver("K-1", "R-1", 20);
  EXPECT_EQ(PiecesAt(Book("L-1"), "shelf"), 1);
  d_.Tell(30,
          "exchanged { order: 'R-1' unit_out: 'K-1' to_place: 'van-dirty' unit_in: 'K-2' "
          "unit_in_model: 'knee-a' "
          "kit { item: 'pad-set' lot: 'L-1' piece_count: 1 from_place: 'closet' } }");
  EXPECT_EQ(PiecesAt(Book("L-1"), "closet"), 0);
  EXPECT_THAT(Questions("lots/L-1"), IsEmpty());
}

TEST_F(Stores, BelowZeroIsAskedAndShown) {
  StockIn(0, "L-1", 1);
  Issue(10, "L-1", "R-1", "shelf", 3);
  EXPECT_THAT(Questions("lots/L-1"), ElementsAre("STOCK_BELOW_ZERO"));
  EXPECT_EQ(PiecesAt(Book("L-1"), "shelf"), -2);
  // The receipt that nobody had entered settles it.
  StockIn(5, "L-1", 2);
  EXPECT_THAT(Questions("lots/L-1"), IsEmpty());
  EXPECT_EQ(PiecesAt(Book("L-1"), "shelf"), 0);
}

TEST_F(Stores, ALotThatWasNeverReceivedIsNotJudged) {
  d_.HandOver("K-1", "R-1", 20);
  EXPECT_THAT(Questions("lots/L-1"), IsEmpty());
  EXPECT_FALSE(Book("L-1").followed());
  EXPECT_EQ(Book("L-1").at_size(), 0);
  EXPECT_EQ(Book("L-1").issued_count(), 1);
}

TEST_F(Stores, AnExpiredLotIsAskedFromTheDayAfterItsLast) {
  StockIn(0, "L-1", 5, "shelf", "expiry_date { year: 2026 month: 3 day: 2 }");
  Issue(60, "L-1", "R-1");
  EXPECT_THAT(Questions("lots/L-1"), IsEmpty());
  Issue(60 * 24, "L-1", "R-2");
  EXPECT_THAT(Questions("lots/L-1"), ElementsAre("STOCK_EXPIRED"));
}

TEST_F(Stores, APieceOfALotThatIsUsedUpIsAnotherPatients) {
  StockIn(0, "L-1", 1);
  Issue(10, "L-1", "R-1");
  Issue(20, "L-1", "R-2");
  EXPECT_THAT(Questions("lots/L-1"),
              ::testing::UnorderedElementsAre("STOCK_BELOW_ZERO", "LOT_USED_BY_OTHER_PATIENT"));
  v1::Finding reused = d_.State("lots/L-1").questions(0);
  if (reused.reason() != v1::REASON_LOT_USED_BY_OTHER_PATIENT) {
    reused = d_.State("lots/L-1").questions(1);
  }
  EXPECT_EQ(testing::ValueOf(reused, "order"), "R-1");
}

TEST_F(Stores, WhatIsForOnePatientDoesNotComeBack) {
  StockIn(0, "L-1", 1);
  d_.Tell(10,
          "stock_returned { item: 'pad-set' lot: 'L-1' place: 'shelf' piece_count: 1 order: 'R-1' "
          "}");
  EXPECT_THAT(Questions("lots/L-1"), ElementsAre("SINGLE_PATIENT_RETURNED"));
}

TEST_F(Stores, CountOnlyGoodsGoAndComeBackWithoutALot) {
  d_.Tell(0, "stock_received { item: 'walker' place: 'shelf' piece_count: 3 }");
  d_.Tell(5, "stock_issued { item: 'walker' place: 'shelf' piece_count: 2 order: 'R-1' }");
  d_.Tell(9, "stock_returned { item: 'walker' place: 'dock' piece_count: 1 order: 'R-1' }");
  const v1::StockBook book = d_.State("items/walker").item().book();
  EXPECT_EQ(PiecesAt(book, "shelf"), 1);
  EXPECT_EQ(PiecesAt(book, "dock"), 1);
  EXPECT_EQ(book.issued_count(), 2);
  EXPECT_EQ(book.returned_count(), 1);
  EXPECT_THAT(Questions("items/walker"), IsEmpty());
}

TEST_F(Stores, ALotIsGivenForWhatIsKeptByLotAlone) {
  d_.Tell(0, "stock_received { item: 'walker' lot: 'W-1' place: 'shelf' piece_count: 3 }");
  d_.Tell(0, "stock_received { item: 'strap' place: 'shelf' piece_count: 3 }");
  d_.Tell(0, "stock_received { item: 'nothing' lot: 'N-1' place: 'shelf' piece_count: 3 }");
  EXPECT_THAT(Questions("lots/W-1"), ElementsAre("STOCK_TRACKED_OTHERWISE"));
  EXPECT_THAT(Questions("items/strap"), ElementsAre("STOCK_TRACKED_OTHERWISE"));
  EXPECT_THAT(Questions("lots/N-1"), ElementsAre("STOCK_ITEM_UNKNOWN"));
}

TEST_F(Stores, StocktakesKeepGainsAndLossesApart) {
  StockIn(0, "L-1", 5);
  d_.Tell(1, "count_opened { count: 'C-1' places: 'shelf' cut_off_time { seconds: 1772438400 } }");
  d_.Tell(10,
          "stock_adjusted { item: 'pad-set' lot: 'L-1' place: 'shelf' change_count: 2 count: "
          "'C-1' approved_by: 'eve' }");
  d_.Tell(11,
          "stock_adjusted { item: 'pad-set' lot: 'L-1' place: 'shelf' change_count: -2 count: "
          "'C-1' approved_by: 'eve' }");
  EXPECT_EQ(Book("L-1").gained_count(), 2);
  EXPECT_EQ(Book("L-1").lost_count(), 2);
  EXPECT_EQ(PiecesAt(Book("L-1"), "shelf"), 5);
  EXPECT_EQ(d_.State("counts/C-1").count().gained_count(), 2);
  EXPECT_EQ(d_.State("counts/C-1").count().lost_count(), 2);
}

TEST_F(Stores, ATransferHasTwoEnds) {
  StockIn(0, "L-1", 5);
  d_.Tell(10,
          "transfer_sent { transfer: 'T-1' from_place: 'shelf' to_place: 'west-shelf' units: 'K-2' "
          "units: 'K-1' lines { item: 'pad-set' lot: 'L-1' piece_count: 3 } seal: 'Z-5' }");
  EXPECT_EQ(PiecesAt(Book("L-1"), "shelf"), 2);
  EXPECT_EQ(Book("L-1").on_the_way(0).piece_count(), 3);
  d_.Tell(60,
          "transfer_received { transfer: 'T-1' place: 'west-shelf' units: 'K-1' "
          "lines { item: 'pad-set' lot: 'L-1' piece_count: 2 } seal: 'Z-5' }");
  const v1::SubjectState transfer = d_.State("transfers/T-1");
  EXPECT_THAT(transfer.transfer().open_units(), ElementsAre("K-2"));
  EXPECT_EQ(transfer.transfer().open_lines(0).piece_count(), 1);
  EXPECT_THAT(testing::Reasons(transfer.questions()), ElementsAre("TRANSFER_SHORT"));
  EXPECT_EQ(PiecesAt(Book("L-1"), "west-shelf"), 2);
  EXPECT_EQ(Book("L-1").on_the_way(0).piece_count(), 1);
  d_.Tell(90,
          "transfer_received { transfer: 'T-1' place: 'west-shelf' units: 'K-2' "
          "lines { item: 'pad-set' lot: 'L-1' piece_count: 1 } seal: 'Z-5' }");
  EXPECT_THAT(d_.State("transfers/T-1").transfer().open_units(), IsEmpty());
  EXPECT_EQ(Book("L-1").on_the_way_size(), 0);
}

TEST_F(Stores, AnArrivalThatNobodySentIsAsked) {
  d_.Tell(60, "transfer_received { transfer: 'T-1' place: 'west-shelf' units: 'K-1' }");
  EXPECT_THAT(Questions("transfers/T-1"), ElementsAre("NOT_SENT_WITH_TRANSFER"));
  d_.Tell(10,
          "transfer_sent { transfer: 'T-1' from_place: 'shelf' to_place: 'west-shelf' units: 'K-1' "
          "}");
  EXPECT_THAT(Questions("transfers/T-1"), IsEmpty());
}

TEST_F(Stores, ASealThatDiffersIsAsked) {
  d_.Tell(10,
          "transfer_sent { transfer: 'T-1' from_place: 'shelf' to_place: 'west-shelf' units: 'K-1' "
          "seal: 'Z-5' }");
  d_.Tell(20, "transfer_received { transfer: 'T-1' place: 'west-shelf' units: 'K-1' seal: 'Z-6' }");
  EXPECT_THAT(Questions("transfers/T-1"), ElementsAre("SEAL_DIFFERS"));
}

TEST_F(Stores, AClosetUseWaitsForItsPapers) {
  const std::string use = d_.Tell(
      10, "closet_use_reported { place: 'closet' device_class: 'knee' piece_count: 1 chase: 'w' }");
  EXPECT_EQ(d_.State("places/closet").place().uses_size(), 1);
  d_.Tell(20, "closet_use_settled { place: 'closet' fact { entry_id: '" + use + "' } }");
  EXPECT_EQ(d_.State("places/closet").place().uses_size(), 0);
  d_.Tell(30, "closet_use_settled { place: 'closet' fact { entry_id: '" + use + "' } }");
  EXPECT_THAT(Questions("places/closet"), ElementsAre("CLOSET_USE_UNKNOWN"));
  d_.Tell(10, "closet_use_reported { place: 'dock' device_class: 'knee' piece_count: 1 }");
  EXPECT_THAT(Questions("places/dock"), ElementsAre("NOT_A_CLOSET"));
}

TEST_F(Stores, AStocktakeIsTalliedRecountedAndApprovedByAnother) {
  d_.Tell(0,
          "count_opened { count: 'C-1' places: 'shelf' places: 'closet' "
          "cut_off_time { seconds: 1772438400 } }");
  d_.Tell(5, "count_tallied { count: 'C-1' place: 'shelf' units: 'K-1' }");
  d_.Tell(9,
          "count_closed { count: 'C-1' approved_by: 'tech-ada' differences { subject: "
          "'units/K-2' place: 'shelf' expected_count: 1 "
          "explanation: COUNT_EXPLANATION_NONE } }");
  EXPECT_THAT(Questions("counts/C-1"),
              ElementsAre("COUNT_NOT_TALLIED", "COUNT_NOT_RECOUNTED", "COUNT_APPROVER_COUNTED"));
  d_.Tell(6, "count_tallied { count: 'C-1' place: 'closet' }");
  d_.Tell(7, "count_tallied { count: 'C-1' place: 'shelf' round: 2 units: 'K-1' }");
  EXPECT_THAT(Questions("counts/C-1"), ElementsAre("COUNT_APPROVER_COUNTED"));
  d_.Tell(20, "count_tallied { count: 'C-1' place: 'shelf' units: 'K-1' }");
  d_.Tell(8, "count_tallied { count: 'C-1' place: 'bench' }");
  EXPECT_THAT(Questions("counts/C-1"),
              ElementsAre("COUNT_OTHER_PLACE", "COUNT_APPROVER_COUNTED", "COUNT_CLOSED"));
  d_.Tell(5, "count_tallied { count: 'C-2' place: 'bench' }");
  EXPECT_THAT(Questions("counts/C-2"), ElementsAre("COUNT_UNKNOWN"));
}

TEST_F(Stores, ARecallKeepsItsItemsWithTheItems) {
  d_.Receive("K-1", 0);
  d_.Tell(5,
          "recall_outcome_noted { recall: 'N-7' subject: 'units/K-1' outcome: "
          "RECALL_OUTCOME_CONTACTED contact: 'telephone' }");
  EXPECT_THAT(Questions("recalls/N-7"), ElementsAre("RECALL_UNKNOWN"));
  d_.Tell(1, "recall_opened { recall: 'N-7' notice: 'n' scope { units: 'K-1' } instruction: 'i' }");
  d_.Tell(9,
          "recall_outcome_noted { recall: 'N-7' subject: 'units/K-1' outcome: "
          "RECALL_OUTCOME_CORRECTED evidence: 'repair' }");
  EXPECT_THAT(Questions("recalls/N-7"), IsEmpty());
  const v1::RecallWord word = d_.State("units/K-1").recall_words(0);
  EXPECT_EQ(word.outcome(), v1::RECALL_OUTCOME_CORRECTED);
  EXPECT_EQ(time::ToMicros(word.contacted().time()), FoldedDepot::Us(5));
  EXPECT_EQ(time::ToMicros(word.noted().time()), FoldedDepot::Us(9));
  EXPECT_EQ(d_.State("recalls/N-7").recall().outcome_count(), 2);
  d_.Tell(12, "recall_closed { recall: 'N-7' open_item_count: 2 }");
  EXPECT_THAT(Questions("recalls/N-7"), ElementsAre("RECALL_ITEMS_OPEN"));
  d_.Tell(15,
          "recall_outcome_noted { recall: 'N-7' subject: 'units/K-1' outcome: "
          "RECALL_OUTCOME_DESTROYED }");
  EXPECT_THAT(Questions("recalls/N-7"), ElementsAre("RECALL_ITEMS_OPEN", "RECALL_CLOSED"));
}

}  // namespace
}  // namespace ferrule::stock
