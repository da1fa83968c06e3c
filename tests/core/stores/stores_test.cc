// Tests core/stores/goods.cc, core/stores/places.cc, core/stores/stocktake.cc.
#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <string>
#include <vector>

#include "absl/strings/str_cat.h"
#include "core/stores/goods.h"
#include "core/stores/places.h"
#include "core/stores/reorder.h"
#include "core/stores/stocktake.h"
#include "tests/support/ledger_depot.h"
#include "tests/support/stores_entries.h"

namespace ferrule::stores {
namespace {

using testing::At;
using ::testing::ElementsAre;
using ::testing::HasSubstr;
using ::testing::IsEmpty;
using testing::kDayUs;
using testing::kMinuteUs;
using testing::kStartUs;

constexpr int64_t kDay = 24 * 60;

class StoresAnswers : public testing::OnEveryEngine {
 protected:
  StoresAnswers() : depot_(GetParam()) {
    depot_.clock().Set(kStartUs + 60 * kDayUs);
    depot_.MustRecord(testing::StoresSettingsEntry());
  }
  void Tell(int64_t minutes, const std::string& fact, const std::string& who = "tech-ada") {
    v1::Entry entry = At(absl::StrCat("e", ++entries_), minutes, fact, v1::ENTRY_MODE_OBSERVED);
    entry.set_actor(who);
    depot_.MustRecord(std::move(entry));
  }
  void Ready(const std::string& unit) {
    depot_.MustRecord(testing::ReceiveUnit(unit, kStartUs));
    depot_.MustRecord(testing::MakeReady("ready-" + unit, unit, kStartUs + 10 * kMinuteUs));
  }
  int64_t Now() { return depot_.clock().NowMicros(); }
  v1::GetCountResponse Count() {
    v1::GetCountRequest request;
    request.set_name("counts/C-1");
    auto response = GetCount(depot_.ledger(), request, Now());
    EXPECT_TRUE(response.ok()) << response.status();
    return *response;
  }
  static std::vector<std::string> Lines(const v1::GetCountResponse& count) {
    std::vector<std::string> out;
    for (const v1::CountLine& line : count.differences()) {
      const v1::CountDifference& d = line.difference();
      out.push_back(absl::StrCat(d.subject(), " ", d.expected_count(), "->", d.counted_count(), " ",
                                 v1::CountExplanation_Name(d.explanation()).substr(18)));
    }
    return out;
  }
  void OpenCount(int64_t minutes) {
    Tell(minutes, absl::StrCat("count_opened { count: 'C-1' places: 'north-shelf' "
                               "cut_off_time { seconds: ",
                               kStartUs / 1'000'000 + minutes * 60, " } }"));
  }

  testing::LedgerDepot depot_;
  int entries_ = 0;
};

TEST_P(StoresAnswers, FirstExpiredComesFirst) {
  Tell(0,
       testing::PadsIn("L-late", "north-shelf", 5, "expiry_date { year: 2027 month: 1 day: 1 }"));
  Tell(0,
       testing::PadsIn("L-soon", "north-shelf", 2, "expiry_date { year: 2026 month: 6 day: 1 }"));
  Tell(0,
       testing::PadsIn("L-gone", "north-shelf", 4, "expiry_date { year: 2026 month: 4 day: 1 }"));
  Tell(0, testing::PadsIn("L-none", "north-shelf", 1));
  v1::ReportPickingRequest request;
  request.set_item("pad-set");
  request.set_piece_count(9);
  const auto picks = ReportPicking(depot_.ledger(), request, Now());
  ASSERT_TRUE(picks.ok());
  std::vector<std::string> lots;
  for (const v1::StockRow& row : picks->rows()) {
    lots.push_back(absl::StrCat(row.lot(), " ", row.piece_count()));
  }
  EXPECT_THAT(lots, ElementsAre("L-soon 2", "L-late 5", "L-none 1"));
  EXPECT_EQ(picks->short_count(), 1);
  EXPECT_EQ(picks->expired_count(), 4);
  request.mutable_on_date()->set_year(2026);
  request.mutable_on_date()->set_month(12);
  request.mutable_on_date()->set_day(24);
  EXPECT_EQ(ReportPicking(depot_.ledger(), request, Now())->rows(0).lot(), "L-late");
}

TEST_P(StoresAnswers, ListsGoodsByPage) {
  for (int i = 0; i < 5; ++i) Tell(0, testing::PadsIn(absl::StrCat("L-", i), "north-shelf", 1));
  Tell(0, "stock_received { item: 'walker' place: 'north-shelf' piece_count: 3 }");
  v1::ListStockRequest request;
  request.set_page_size(4);
  std::vector<std::string> lots;
  for (int page = 0; page < 4; ++page) {
    const auto response = ListStock(depot_.ledger(), request, Now());
    ASSERT_TRUE(response.ok());
    for (const v1::StockRow& row : response->rows()) lots.push_back(row.item() + row.lot());
    request.set_page_token(response->next_page_token());
    if (request.page_token().empty()) break;
  }
  EXPECT_THAT(lots, ElementsAre("walker", "pad-setL-0", "pad-setL-1", "pad-setL-2", "pad-setL-3",
                                "pad-setL-4"));
}

TEST_P(StoresAnswers, APlaceShowsUnitsGoodsAndTheMinusOne) {
  Tell(0, testing::PadsIn("L-5", "north-closet", 3));
  Tell(10,
       "closet_use_reported { place: 'north-closet' device_class: 'knee' piece_count: 1 chase: "
       "'ward 4' }");
  v1::GetPlaceRequest request;
  request.set_place("north-closet");
  auto place = GetPlace(depot_.ledger(), request, Now());
  ASSERT_TRUE(place.ok());
  ASSERT_EQ(place->pars_size(), 2);
  EXPECT_EQ(place->pars(0).device_class(), "knee");
  EXPECT_EQ(place->pars(0).on_hand_count(), -1);
  EXPECT_EQ(place->pars(0).missing_count(), 2);
  EXPECT_EQ(place->pars(1).on_hand_count(), 3);
  EXPECT_EQ(place->uses(0).chase(), "ward 4");
  request.set_place("nowhere");
  EXPECT_EQ(GetPlace(depot_.ledger(), request, Now()).status().code(), absl::StatusCode::kNotFound);
}

TEST_P(StoresAnswers, WhatIsOnTheWayTooLongIsLate) {
  Ready("K-1");
  Tell(100,
       "transfer_sent { transfer: 'T-1' from_place: 'north-shelf' to_place: 'west-dock' units: "
       "'K-1' }");
  v1::ListTransfersRequest request;
  request.set_page_size(10);
  const int64_t sent_us = kStartUs + 100 * kMinuteUs;
  const auto early = ListTransfers(depot_.ledger(), request, sent_us + 11 * 60 * kMinuteUs);
  ASSERT_TRUE(early.ok());
  EXPECT_FALSE(early->transfers(0).late());
  const auto late = ListTransfers(depot_.ledger(), request, sent_us + 12 * 60 * kMinuteUs);
  EXPECT_TRUE(late->transfers(0).late());
  EXPECT_EQ(late->transfers(0).on_the_way_hours(), 12);
  Tell(200, "transfer_received { transfer: 'T-1' place: 'west-dock' units: 'K-1' }");
  EXPECT_EQ(ListTransfers(depot_.ledger(), request, Now())->transfers_size(), 0);
  request.set_include_arrived(true);
  EXPECT_EQ(ListTransfers(depot_.ledger(), request, Now())->transfers_size(), 1);
}

TEST_P(StoresAnswers, ReorderFollowsUseAndLeadTime) {
  depot_.MustRecord(testing::TakeOrder("R-1", kStartUs));
  Tell(0, testing::PadsIn("L-5", "north-shelf", 40));
  // One piece on each of the thirty days before today.
  for (int day = 30; day < 60; ++day) {
    Tell(day * kDay + 60, absl::StrCat("stock_issued { item: 'pad-set' lot: 'L-5' place: "
                                       "'north-shelf' piece_count: 1 order: 'R-1' }"));
  }
  const auto report = ReportReorder(depot_.ledger(), {}, Now());
  ASSERT_TRUE(report.ok());
  ASSERT_GE(report->rows_size(), 1);
  const v1::ReorderRow& row = report->rows(0);
  EXPECT_EQ(row.branch(), "north");
  EXPECT_EQ(row.item(), "pad-set");
  EXPECT_EQ(row.used_count(), 30);
  EXPECT_EQ(row.usable_count(), 10);
  EXPECT_EQ(row.cover_days(), 7);
  // Poisson with mean 7: P(X <= 11) = 0.947, P(X <= 12) = 0.973 (tables; computed again).
  EXPECT_EQ(row.reorder_point_count(), 12);
  EXPECT_EQ(row.order_count(), 10);  // up to 13, in packages of ten
  EXPECT_THAT(row.words(), HasSubstr("30 used in 30 days"));
  ASSERT_GE(report->pars_size(), 2);
}

TEST_P(StoresAnswers, ACountIsBlindUntilEveryPlaceIsTallied) {
  Ready("K-1");
  OpenCount(100);
  const v1::GetCountResponse blind = Count();
  EXPECT_THAT(blind.untallied_places(), ElementsAre("north-shelf"));
  EXPECT_EQ(blind.differences_size(), 0);
  EXPECT_EQ(blind.expected_count(), 0);
}

TEST_P(StoresAnswers, PlusAndMinusAreNeverNetted) {
  for (const char* unit : {"K-1", "K-2", "K-3"}) Ready(unit);
  Tell(60, "unit_moved { unit: 'K-3' to_place: 'van-clean' }");
  Tell(60, testing::PadsIn("L-5", "north-shelf", 10));
  Tell(60, testing::PadsIn("L-6", "north-shelf", 10));
  OpenCount(100);
  Tell(110,
       "count_tallied { count: 'C-1' place: 'north-shelf' units: 'K-1' units: 'K-3' "
       "lines { item: 'pad-set' lot: 'L-5' piece_count: 12 } "
       "lines { item: 'pad-set' lot: 'L-6' piece_count: 8 } }");
  const v1::GetCountResponse count = Count();
  EXPECT_THAT(Lines(count), ElementsAre("units/K-2 1->0 SWAP", "units/K-3 0->1 OTHER_PLACE",
                                        "lots/L-5 10->12 NONE", "lots/L-6 10->8 NONE"));
  EXPECT_EQ(count.plus_count(), 3);
  EXPECT_EQ(count.minus_count(), 3);
  EXPECT_EQ(count.agreeing_count(), 1);
  EXPECT_EQ(count.expected_count(), 22);
  EXPECT_EQ(count.accuracy_basis_points(), 2000);
  EXPECT_FALSE(count.differences(0).recounted());
}

TEST_P(StoresAnswers, WhatMovesDuringTheCountIsNoDifference) {
  Ready("K-1");
  Ready("K-2");
  Tell(60, testing::PadsIn("L-5", "north-shelf", 10));
  OpenCount(100);
  Tell(104, "unit_moved { unit: 'K-1' to_place: 'van-clean' }");
  Tell(105,
       "stock_moved { item: 'pad-set' lot: 'L-5' from_place: 'north-shelf' to_place: "
       "'north-closet' piece_count: 4 }");
  Tell(110,
       "count_tallied { count: 'C-1' place: 'north-shelf' units: 'K-2' "
       "lines { item: 'pad-set' lot: 'L-5' piece_count: 6 } }");
  Tell(112, "unit_moved { unit: 'K-2' to_place: 'van-clean' }");
  const v1::GetCountResponse count = Count();
  EXPECT_THAT(Lines(count), IsEmpty());
  EXPECT_EQ(count.expected_count(), 12);
  EXPECT_EQ(count.moves_size(), 2);
}

TEST_P(StoresAnswers, ALaterScanExplainsAMissingUnit) {
  Ready("K-1");
  OpenCount(100);
  Tell(110, "count_tallied { count: 'C-1' place: 'north-shelf' }");
  EXPECT_THAT(Lines(Count()), ElementsAre("units/K-1 1->0 NONE"));
  Tell(130, "unit_moved { unit: 'K-1' to_place: 'van-clean' }");
  const v1::GetCountResponse count = Count();
  EXPECT_THAT(Lines(count), ElementsAre("units/K-1 1->0 LATER_SCAN"));
  EXPECT_THAT(count.differences(0).difference().words(), HasSubstr("places/van-clean"));
  // A recount counts instead of the first tally.
  Tell(140, "unit_moved { unit: 'K-1' to_place: 'north-shelf' }");
  Tell(150, "count_tallied { count: 'C-1' place: 'north-shelf' round: 2 units: 'K-1' }");
  EXPECT_THAT(Lines(Count()), IsEmpty());
  v1::ListCountsRequest request;
  request.set_page_size(10);
  EXPECT_EQ(ListCounts(depot_.ledger(), request, Now())->counts_size(), 1);
}

FERRULE_ON_EVERY_ENGINE(StoresAnswers);

}  // namespace
}  // namespace ferrule::stores
