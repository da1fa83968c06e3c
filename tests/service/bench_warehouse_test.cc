// Exceptions of the trade in the warehouse, 62 to 72, each told through the API.
#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include "tests/service/bench_depot.h"

namespace ferrule::service {
namespace {

using ferrule::testing::BenchDepot;
using ferrule::testing::kDayMin;
using ::testing::Contains;
using ::testing::ElementsAre;
using ::testing::HasSubstr;
using ::testing::IsEmpty;
using ::testing::Not;

class WarehouseExceptions : public BenchDepot {
 protected:
  v1::GetRunHoursResponse RunHours(const std::string& unit) {
    v1::GetRunHoursRequest request;
    request.set_name("units/" + unit);
    return Ask(bench_, &v1::BenchService::Stub::GetRunHours, request);
  }
  static std::string Calibrated(int month, int day) {
    return absl::StrCat("tester_calibrated { tester: 'T-1' due_date { year: 2026 month: ", month,
                        " day: ", day, " } }");
  }
};

TEST_F(WarehouseExceptions, No62ASetOutWithoutFreshSoftGoodsIsRefused) {
  ReadyKnee("K-1");
  TakeOrder("R-1", 4);
  EXPECT_THAT(Enforce(5, HandOver("K-1", "R-1", "")), ElementsAre("KIT_MISSING"));
  Must(5, HandOver("K-1", "R-1"));
  EXPECT_EQ(Subject("lots/L-1").lot().uses(0).order(), "R-1") << "who got it";
}

TEST_F(WarehouseExceptions, No63AShortOrExpiredCleaningLeavesItSoiledAndTheBottleNamesItsUnits) {
  Receive("K-1", 0);
  Receive("K-2", 0);
  EXPECT_THAT(Enforce(10, Cleaning("K-1", 10, 59)), ElementsAre("WET_TIME_SHORT"));
  Observe(10, Cleaning("K-1", 10, 59, "product_lot: 'B-9'"));
  EXPECT_THAT(WhyNot("K-1"), Contains("NOT_CLEANED"));
  const std::string expired =
      "product_lot: 'B-9' product_expiry_date { year: 2026 month: 3 day: 1 }";
  EXPECT_THAT(Observe(20, Cleaning("K-2", 20, 90, expired)), ElementsAre("PRODUCT_EXPIRED"));
  TakeOrder("R-1", 30);
  EXPECT_THAT(Enforce(31, HandOver("K-2", "R-1")), Contains("NOT_CLEANED"));
  v1::ReportCleaningsRequest request;
  request.set_product_lot("B-9");
  const auto rows = Ask(bench_, &v1::BenchService::Stub::ReportCleanings, request);
  ASSERT_EQ(rows.rows_size(), 2);
  EXPECT_EQ(rows.rows(0).unit(), "K-1");
  EXPECT_EQ(rows.rows(0).wet_s(), 59);
  EXPECT_EQ(rows.rows(0).label_s(), 60);
  EXPECT_EQ(rows.rows(1).because(), v1::REASON_PRODUCT_EXPIRED);
}

TEST_F(WarehouseExceptions, No64AUnitThatFailsAfterItsCleaningStaysClean) {
  Receive("K-1", 0);
  Must(10, Cleaning("K-1", 10));
  Must(20, Inspection("K-1", "0.4"));
  Must(30, "repair_opened { unit: 'K-1' complaint: 'earth out of limits' }");
  Must(60, "repair_closed { unit: 'K-1' cause: 'wear' work: 'cord' }");
  EXPECT_EQ(Unit("K-1").hygiene(), v1::HYGIENE_CLEANED);
  EXPECT_THAT(WhyNot("K-1"), Contains("REPAIRED_AFTER_INSPECTION"));
  v1::AssessFailureRequest request;
  request.set_name("units/K-1");
  const auto past = Ask(bench_, &v1::BenchService::Stub::AssessFailure, request);
  ASSERT_EQ(past.inspections_size(), 1);
  EXPECT_EQ(past.inspections(0).failed(0).limit(), "at most 0.3 ohm");
}

TEST_F(WarehouseExceptions, No65AMeterReplacedWithTheBoardKeepsTheTrueHours) {
  Receive("K-1", 0);  // 100.0 h
  Must(2 * kDayMin, "meter_replaced { unit: 'K-1' old_last_s: 378000 new_first_s: 0 }");
  Must(4 * kDayMin, "meter_read { unit: 'K-1' reading_s: 18000 }");
  const v1::GetRunHoursResponse known = RunHours("K-1");
  ASSERT_EQ(known.segments_size(), 2);
  EXPECT_EQ(known.segments(0).end(), v1::SEGMENT_END_REPLACED);
  EXPECT_EQ(known.run_s(), 36'000) << "5 h and 5 h";
  Must(5 * kDayMin, "meter_replaced { unit: 'K-1' new_first_s: 3600 }");
  const v1::GetRunHoursResponse unread = RunHours("K-1");
  EXPECT_EQ(unread.segments(1).end(), v1::SEGMENT_END_REPLACED_UNREAD);
  EXPECT_TRUE(unread.incomplete());
  EXPECT_EQ(unread.run_s(), 36'000) << "at least";
}

// Computed by hand: at a width of 10000.0 h, 9987.4 to 0031.2 is 43.8 h.
TEST_F(WarehouseExceptions, No66ARollOverNeedsItsWidthAndAPlausibleIncrement) {
  Must(0, "unit_received { unit: 'K-1' model: 'knee-a' place: 'north-dock' meter_s: 35954640 }");
  EXPECT_THAT(Enforce(kDayMin, "meter_read { unit: 'K-1' reading_s: 112320 }"),
              ElementsAre("METER_FELL"));
  const std::string rolled =
      "meter_rolled_over { unit: 'K-1' reading_s: 112320 width_s: 36000000 }";
  EXPECT_THAT(Enforce(kDayMin, rolled), ElementsAre("METER_BEYOND_ELAPSED")) << "43.8 h in a day";
  Must(14 * kDayMin, rolled);
  EXPECT_EQ(RunHours("K-1").run_s(), 157'680);
}

TEST_F(WarehouseExceptions, No67AReadingTypedWrongIsAskedAndItsCorrectionKeepsIt) {
  Receive("K-1", 0);
  EXPECT_THAT(Observe(kDayMin, "meter_read { unit: 'K-1' reading_s: 3780000 }"),
              ElementsAre("METER_BEYOND_ELAPSED"))
      << "1050.0 for 105.0";
  const std::string wrong = last_entry_;
  EXPECT_EQ(RunHours("K-1").doubtful_count(), 1);
  EXPECT_EQ(RunHours("K-1").run_s(), 0) << "kept out of the sum";
  Must(kDayMin + 5, "reversal { fact { entry_id: '" + wrong +
                        "' } subjects: 'units/K-1' because: 'decimal lost' }");
  Must(kDayMin + 6, "meter_read { unit: 'K-1' reading_s: 378000 }");
  EXPECT_EQ(RunHours("K-1").run_s(), 18'000);
  EXPECT_THAT(Questions("units/K-1"), IsEmpty());
  v1::ListHistoryRequest history;
  history.set_name("units/K-1");
  const auto rows = Ask(reads_, &v1::DepotService::Stub::ListHistory, history);
  ASSERT_EQ(rows.rows_size(), 4);
  EXPECT_TRUE(rows.rows(1).reversed());
  EXPECT_THAT(rows.rows(1).text(), HasSubstr("1050.0 h")) << "the slip stays readable";
}

TEST_F(WarehouseExceptions, No68AChangedBoardsNumberNamesTheUnitAsWell) {
  Rent("K-1", "R-1", 0);
  Must(10 * kDayMin, PickUp("K-1", "R-1"));
  v1::AssessReturnRequest request;
  request.mutable_seen()->set_unit("K-1");
  request.mutable_seen()->set_place("north-dock");
  request.mutable_seen()->set_serial("B-7");
  EXPECT_THAT(Reasons(Ask(bench_, &v1::BenchService::Stub::AssessReturn, request).findings()),
              ElementsAre("OTHER_SERIAL_SEEN"));
  Must(10 * kDayMin + 5, "alias_noted { unit: 'K-1' alias: 'B-7' kind: ALIAS_KIND_BOARD_NUMBER }");
  Now(10 * kDayMin + 10);
  for (const char* number : {"B-7", "S-K-1"}) {
    request.mutable_seen()->set_serial(number);
    EXPECT_EQ(Ask(bench_, &v1::BenchService::Stub::AssessReturn, request).findings_size(), 0)
        << number;
  }
  EXPECT_EQ(Unit("K-1").aliases(0).alias(), "B-7");
}

TEST_F(WarehouseExceptions, No69ACannibalisedDonorIsIncompleteFromThatMinute) {
  ReadyKnee("K-1");
  ReadyKnee("K-2", 10);
  EXPECT_THAT(Enforce(60, "part_fitted { part: 'P-K-2' unit: 'K-1' position: 'pendant' }"),
              Contains("PART_IN_OTHER_UNIT"));
  Must(60, "part_removed { part: 'P-K-1' unit: 'K-1' position: 'pendant' }");
  Must(60, "part_removed { part: 'P-K-2' unit: 'K-2' position: 'pendant' }");
  Must(61, "part_fitted { part: 'P-K-2' unit: 'K-1' position: 'pendant' }");
  const v1::AssessUnitResponse donor = Assess("K-2");
  EXPECT_THAT(Reasons(donor.findings()), Contains("PART_MISSING"));
  for (const v1::Finding& finding : donor.findings()) {
    if (finding.reason() != v1::REASON_PART_MISSING) continue;
    ASSERT_EQ(finding.evidence_size(), 1);
    EXPECT_EQ(time::ToMicros(finding.evidence(0).time()), Us(60));
  }
  EXPECT_EQ(Subject("parts/P-K-2").part().unit(), "K-1") << "a recall of the part reaches it";
}

TEST_F(WarehouseExceptions, No70ServiceThatComesDueInTheFieldIsPutOffByNameAndCountsAsLate) {
  Rent("K-1", "R-1", 0);
  Must(150 * kDayMin,
       "order_extended { order: 'R-1' through_date { year: 2026 month: 10 day: 1 } }");
  const auto service = [&] {
    return Ask(bench_, &v1::BenchService::Stub::ReportService, v1::ReportServiceRequest());
  };
  ASSERT_EQ(service().rows_size(), 1);
  EXPECT_EQ(service().rows(0).standing(), v1::SERVICE_STANDING_DUE_IN_FIELD);
  Must(175 * kDayMin,
       "service_deferred { unit: 'K-1' plan: 'plan' authority: 'lead-eve' because: 'with the "
       "patient' until_date { year: 2026 month: 10 day: 2 } }");
  Now(185 * kDayMin);
  const v1::ReportServiceResponse late = service();
  EXPECT_EQ(late.unit_count(), 1);
  EXPECT_EQ(late.overdue_count(), 1) << "late all the same";
  EXPECT_EQ(late.overdue_at_home_count(), 1);
  EXPECT_EQ(late.rows(0).standing(), v1::SERVICE_STANDING_DEFERRED);
  EXPECT_EQ(late.rows(0).deferred_by(), "lead-eve");
}

TEST_F(WarehouseExceptions, No71ATesterOutOfCalibrationQuestionsItsPassesAndHomesComeFirst) {
  Must(-10, Calibrated(6, 1));
  ReadyKnee("K-1");  // inspected at minute 2
  ReadyKnee("K-2", 10);
  TakeOrder("R-1", 20);
  Must(25, HandOver("K-1", "R-1"));
  v1::ReportDoubtsRequest window;
  window.set_tester("T-1");
  time::SetMicros(Us(0), window.mutable_from_time());
  time::SetMicros(Us(60), window.mutable_to_time());
  Now(kDayMin);
  const auto what_if = Ask(bench_, &v1::BenchService::Stub::ReportDoubts, window);
  ASSERT_EQ(what_if.rows_size(), 2);
  EXPECT_EQ(what_if.rows(0).unit(), "K-1");
  EXPECT_EQ(what_if.rows(0).rank(), 1) << "at a patient's home";
  EXPECT_EQ(what_if.rows(0).order(), "R-1");
  EXPECT_EQ(what_if.rows(1).rank(), 3) << "ready to go";
  Must(kDayMin,
       absl::StrCat("tester_doubted { tester: 'T-1' because: 'found 8 % low' units: 'K-1' "
                    "units: 'K-2' from_time { seconds: ",
                    Us(0) / 1'000'000, " } to_time { seconds: ", Us(60) / 1'000'000, " } }"));
  TakeOrder("R-2", kDayMin + 5);
  EXPECT_THAT(Enforce(kDayMin + 6, HandOver("K-2", "R-2")), ElementsAre("TESTER_IN_DOUBT"));
  Must(kDayMin + 10, Inspection("K-2"));
  Must(kDayMin + 11, HandOver("K-2", "R-2"));
  const auto doubts = Ask(bench_, &v1::BenchService::Stub::ReportDoubts, v1::ReportDoubtsRequest());
  ASSERT_EQ(doubts.rows_size(), 2);
  EXPECT_EQ(doubts.rows(1).unit(), "K-2");
  EXPECT_TRUE(doubts.rows(1).has_settled());
}

TEST_F(WarehouseExceptions, No72UnitsSwappedBetweenVansByHandShowInTwoLaterScans) {
  Rent("K-1", "R-1", 0);
  Rent("K-2", "R-2", 10);
  Must(10 * kDayMin, PickUp("K-1", "R-1", "", "van1-dirty"));
  Must(10 * kDayMin, PickUp("K-2", "R-2", "", "van2-dirty"));
  // At the dock each comes out of the other van.
  const auto unloaded = [](const std::string& unit, const std::string& van) {
    return "unit_moved { unit: '" + unit + "' from_place: '" + van + "' to_place: 'north-dock' }";
  };
  EXPECT_THAT(Observe(10 * kDayMin + 300, unloaded("K-1", "van2-dirty")),
              ElementsAre("NOT_AT_THAT_PLACE"));
  Observe(10 * kDayMin + 310, unloaded("K-2", "van1-dirty"));
  const v1::ReportStraysResponse strays = Strays();
  ASSERT_EQ(strays.strays_size(), 2);
  ASSERT_EQ(strays.strays(0).proposals_size(), 1);
  const v1::Proposal swap = strays.strays(0).proposals(0);
  EXPECT_EQ(swap.kind(), v1::PROPOSAL_KIND_UNRECORDED_SWAP);
  EXPECT_THAT(swap.text(), HasSubstr("swapped with K-2"));
  // Recorded as proposed, both custody intervals are corrected and no question is left.
  Send({swap.facts(0), swap.facts(1)}, v1::ENTRY_MODE_OBSERVED);
  EXPECT_FALSE(refused_);
  EXPECT_EQ(Strays().strays_size(), 0);
}

// The bench list (feature D9): by slack, and it changes when the promises change.
TEST_F(WarehouseExceptions, BenchListServesTheOrderWithTheLeastSlackFirst) {
  Receive("K-1", 0);
  Receive("K-2", 0);
  Must(5, Cleaning("K-2", 5));
  TakeOrder("R-1", 10, "needed_date { year: 2026 month: 3 day: 9 }");
  const auto bench = [&] {
    return Ask(bench_, &v1::BenchService::Stub::ReportBench, v1::ReportBenchRequest());
  };
  v1::ReportBenchResponse list = bench();
  ASSERT_EQ(list.rows_size(), 2);
  EXPECT_EQ(list.rows(0).unit(), "K-2") << "the least work serves the order";
  EXPECT_EQ(list.rows(0).order(), "R-1");
  EXPECT_EQ(list.rows(0).next(), v1::BENCH_STEP_INSPECT);
  EXPECT_EQ(list.rows(0).minutes(), 25);
  EXPECT_EQ(list.rows(1).order(), "");
  TakeOrder("R-2", 20, "needed_date { year: 2026 month: 3 day: 4 }");
  Must(21, "unit_held_for_order { unit: 'K-1' order: 'R-2' firm: true }");
  list = bench();
  EXPECT_EQ(list.rows(0).unit(), "K-1");
  EXPECT_TRUE(list.rows(0).held());
  EXPECT_EQ(list.rows(0).minutes(), 65) << "clean, inspect, put away";
  EXPECT_EQ(list.rows(1).order(), "R-1");
  MakeReady("K-2", 30);
  EXPECT_EQ(bench().rows_size(), 1) << "what is ready is done";
}

}  // namespace
}  // namespace ferrule::service
