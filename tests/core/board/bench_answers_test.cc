// The bench's answers over a ledger, on both engines.
// Tests core/board/bench_arrivals.cc, core/board/bench_fleet.cc, core/board/bench_lists.cc,
//   core/board/bench_unit.cc, core/board/ready_query.cc, core/board/unit_facts.cc.
#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include "absl/strings/str_cat.h"
#include "core/board/bench_arrivals.h"
#include "core/board/bench_fleet.h"
#include "core/board/bench_lists.h"
#include "core/board/bench_unit.h"
#include "core/board/ready_query.h"
#include "tests/support/bench_settings.h"
#include "tests/support/entries.h"
#include "tests/support/ledger_depot.h"

namespace ferrule::board {
namespace {

using ferrule::testing::EntryOf;
using ferrule::testing::kDayMin;
using ferrule::testing::kMinuteUs;
using ferrule::testing::kStartUs;
using ferrule::testing::LedgerDepot;

class BenchAnswers : public ferrule::testing::OnEveryEngine {
 protected:
  BenchAnswers() : depot_(GetParam()) {
    Tell(-kDayMin, absl::StrCat("settings_put { settings {", ferrule::testing::BenchSettings(),
                                "} from_time { seconds: 1767225600 } }"));
  }
  static int64_t Us(int64_t at_min) { return kStartUs + at_min * kMinuteUs; }
  void Tell(int64_t at_min, const std::string& text) {
    depot_.clock().Set(std::max(depot_.clock().NowMicros(), Us(at_min)));
    depot_.MustRecord(
        EntryOf(absl::StrCat("e", 1000 + entries_++), Us(at_min), text, v1::ENTRY_MODE_OBSERVED));
  }
  // Received, cleaned, inspected and on the shelf.
  void Ready(const std::string& unit, int64_t at, const std::string& earth = "0.2") {
    Tell(at, absl::StrCat("unit_received { unit: '", unit, "' model: 'knee-a' serial: 'S-", unit,
                          "' place: 'north-dock' meter_s: 0 parts { part: 'P-", unit,
                          "' position: 'pendant' } }"));
    Bench(unit, at + 1, earth);
    Tell(at + 3, absl::StrCat("unit_moved { unit: '", unit, "' to_place: 'north-shelf' }"));
  }
  void Bench(const std::string& unit, int64_t at, const std::string& earth) {
    const int64_t to_s = Us(at) / 1'000'000;
    Tell(at, absl::StrCat("cleaning_finished { unit: '", unit,
                          "' product: 'wipe' product_lot: 'B-1' wet_from_time { seconds: ",
                          to_s - 90, " } wet_to_time { seconds: ", to_s, " } }"));
    Tell(at + 1, absl::StrCat("inspection_done { unit: '", unit,
                              "' checklist: 'check' checklist_version: '1' tester: 'T-1' readings "
                              "{ item: 'earth' value: ",
                              earth, " } }"));
  }
  void Repair(const std::string& unit, int64_t at) {
    Tell(at, absl::StrCat("repair_opened { unit: '", unit, "' complaint: 'noise' }"));
    Tell(at + 5,
         absl::StrCat("repair_closed { unit: '", unit, "' cause: 'wear' cost_minor: 5000 }"));
  }
  void Order(const std::string& order, int64_t at) {
    Tell(at, absl::StrCat("order_taken { order: '", order,
                          "' details { patient: 'x' prescriber: 'y' branch: 'north' device_class: "
                          "'knee' side: SIDE_LEFT procedure: 'z' length_of_need_days: 21 "
                          "needed_date { year: 2026 month: 3 day: 9 } "
                          "motion { extension_deg: 0 flexion_deg: 90 } } }"));
  }
  int64_t now_us() { return depot_.clock().NowMicros(); }
  ledger::Ledger& ledger() { return depot_.ledger(); }

  LedgerDepot depot_;
  int entries_ = 0;
};

TEST_P(BenchAnswers, FailureTellsInspectionsRepairsAndTrends) {
  Ready("K-1", 0, "0.4");
  const int64_t before_repair_us = now_us();
  depot_.clock().Set(before_repair_us + kMinuteUs);
  Repair("K-1", 20);
  Bench("K-1", 40, "0.5");
  v1::AssessFailureRequest request;
  request.set_name("units/K-1");
  auto response = AssessFailure(ledger(), request, now_us());
  ASSERT_TRUE(response.ok()) << response.status();
  ASSERT_EQ(response->inspections_size(), 2);
  EXPECT_EQ(response->inspections(0).failed(0).value(), 0.5) << "the latest first";
  ASSERT_EQ(response->repeats_size(), 1);
  EXPECT_TRUE(response->repeats(0).has_repaired());
  ASSERT_EQ(response->repairs_size(), 1);
  ASSERT_EQ(response->trends_size(), 1);
  EXPECT_EQ(response->trends(0).points_size(), 2);
  // As known before the repair.
  time::SetMicros(before_repair_us, request.mutable_known_time());
  response = AssessFailure(ledger(), request, now_us());
  ASSERT_TRUE(response.ok()) << response.status();
  EXPECT_EQ(response->inspections_size(), 1);
  EXPECT_EQ(response->repairs_size(), 0);
  request.set_name("units/K-9");
  EXPECT_TRUE(absl::IsNotFound(AssessFailure(ledger(), request, now_us()).status()));
}

TEST_P(BenchAnswers, CleaningsOfAllUnitsAreFoundByTheirLot) {
  Ready("K-1", 0);
  Ready("K-2", 10);
  v1::ReportCleaningsRequest request;
  request.set_product_lot("B-1");
  auto response = ReportCleanings(ledger(), request, now_us());
  ASSERT_TRUE(response.ok()) << response.status();
  EXPECT_EQ(response->rows_size(), 2);
  request.set_product_lot("B-2");
  EXPECT_EQ(ReportCleanings(ledger(), request, now_us())->rows_size(), 0);
  time::SetMicros(Us(5), request.mutable_known_time());
  EXPECT_TRUE(absl::IsInvalidArgument(ReportCleanings(ledger(), request, now_us()).status()));
  request.clear_product_lot();
  request.set_unit("K-2");
  time::SetMicros(Us(10), request.mutable_known_time());
  EXPECT_EQ(ReportCleanings(ledger(), request, now_us())->rows_size(), 0) << "not known by then";
}

TEST_P(BenchAnswers, FailingUnitsReliabilityAndRetirementAgree) {
  for (const char* unit : {"K-1", "K-2", "K-3"}) {
    Ready(unit, 0);
    Tell(100 * kDayMin, absl::StrCat("meter_read { unit: '", unit, "' reading_s: 360000 }"));
  }
  for (int i = 0; i < 6; ++i) Repair("K-1", (101 + i) * kDayMin);
  v1::ReportFailingUnitsRequest request;
  const auto failing = ReportFailingUnits(ledger(), request, now_us());
  ASSERT_TRUE(failing.ok()) << failing.status();
  EXPECT_EQ(failing->unit_count(), 3);
  ASSERT_EQ(failing->units_size(), 1);
  EXPECT_EQ(failing->units(0).unit(), "K-1");
  EXPECT_NEAR(failing->units(0).chance_probability(), 1.0 / 729, 1e-9) << "(1/3)^6";
  request.set_model("knee-z");
  EXPECT_TRUE(absl::IsNotFound(ReportFailingUnits(ledger(), request, now_us()).status()));

  const auto reliability = ReportReliability(ledger(), v1::ReportReliabilityRequest(), now_us());
  ASSERT_TRUE(reliability.ok()) << reliability.status();
  EXPECT_DOUBLE_EQ(reliability->rows(0).between_failures_hours(), 50);
  EXPECT_EQ(reliability->rows(0).repeat_count(), 5);
  EXPECT_EQ(reliability->rows(0).first_passed_count(), 3);
  v1::ReportReliabilityRequest sure;
  sure.set_confidence_share(1);
  EXPECT_TRUE(absl::IsInvalidArgument(ReportReliability(ledger(), sure, now_us()).status()));

  v1::AssessRepairRequest repair;
  repair.set_name("units/K-1");
  repair.set_repair_cost_minor(200'000);
  const auto advice = AssessRepair(ledger(), repair, now_us());
  ASSERT_TRUE(advice.ok()) << advice.status();
  EXPECT_TRUE(advice->retire()) << "300.00 + 2000.00 is more than half of 4000.00";
  EXPECT_EQ(advice->failure_count(), 6);
  EXPECT_EQ(advice->spent_cost_minor(), 30'000);
  EXPECT_EQ(advice->reasons_size(), 2) << "the cost, and failing beyond chance";
  EXPECT_NEAR(advice->failures_per_1000_hours(), 60, 1e-9);
  EXPECT_NEAR(advice->model_failures_per_1000_hours(), 20, 1e-9);
}

TEST_P(BenchAnswers, DriftNamesTheItemThatLeavesItsHabit) {
  Ready("K-1", 0, "0.10");
  const char* const kEarth[] = {"0.12", "0.11", "0.10", "0.12", "0.11", "0.10", "0.12", "0.19"};
  for (int i = 0; i < 8; ++i) Bench("K-1", 10 + 10 * i, kEarth[i]);
  const auto drift = ReportDrift(ledger(), v1::ReportDriftRequest(), now_us());
  ASSERT_TRUE(drift.ok()) << drift.status();
  ASSERT_EQ(drift->trends_size(), 1);
  EXPECT_EQ(drift->trends(0).item(), "earth");
  v1::ReportDriftRequest elsewhere;
  elsewhere.set_branch("south");
  EXPECT_EQ(ReportDrift(ledger(), elsewhere, now_us())->trends_size(), 0);
}

TEST_P(BenchAnswers, SparesCountNewPartsAndLackingOnes) {
  Ready("K-1", 0);
  Ready("K-2", 10);
  Tell(20, "part_removed { unit: 'K-1' part: 'P-K-1' position: 'pendant' }");
  Tell(21, "part_removed { unit: 'K-2' part: 'P-K-2' position: 'pendant' }");
  Tell(22, "part_fitted { unit: 'K-1' part: 'P-K-2' position: 'pendant' }");  // cannibalised
  const auto one = ReportSpares(ledger(), v1::ReportSparesRequest(), now_us());
  ASSERT_TRUE(one.ok()) << one.status();
  EXPECT_EQ(one->rows(0).fitted_count(), 0) << "a part that moves is no new one";
  EXPECT_EQ(one->rows(0).lacking_count(), 1);
  Tell(30, "part_fitted { unit: 'K-2' part: 'NEW-1' position: 'pendant' }");
  const auto two = ReportSpares(ledger(), v1::ReportSparesRequest(), now_us());
  EXPECT_EQ(two->rows(0).fitted_count(), 1);
  EXPECT_EQ(two->rows(0).lacking_count(), 0);
  EXPECT_NEAR(two->rows(0).expected_in_lead_time(), 14.0 / 365, 1e-9);
  // Poisson with mean 0.038: none is enough with 0.962.
  EXPECT_EQ(two->rows(0).keep_count(), 0);
  EXPECT_NEAR(two->rows(0).reached_probability(), 0.9624, 1e-4);
  v1::ReportSparesRequest unknown;
  unknown.set_position("motor");
  EXPECT_TRUE(absl::IsFailedPrecondition(ReportSpares(ledger(), unknown, now_us()).status()));
}

TEST_P(BenchAnswers, ListsOfBenchServiceAndDoubts) {
  Tell(-5, "tester_calibrated { tester: 'T-1' due_date { year: 2026 month: 3 day: 1 } }");
  Ready("K-1", 0);
  Tell(5,
       "unit_received { unit: 'K-2' model: 'knee-a' place: 'north-dock' parts { part: 'P-9' "
       "position: 'pendant' } }");
  Order("R-1", 6);
  Order("R-2", 7);
  const auto bench = ReportBench(ledger(), v1::ReportBenchRequest(), now_us());
  ASSERT_TRUE(bench.ok()) << bench.status();
  ASSERT_EQ(bench->rows_size(), 1) << "K-1 is ready and covers R-1";
  EXPECT_EQ(bench->rows(0).unit(), "K-2");
  EXPECT_EQ(bench->rows(0).order(), "R-2");
  v1::ReportBenchRequest nowhere;
  nowhere.set_branch("east");
  EXPECT_TRUE(absl::IsNotFound(ReportBench(ledger(), nowhere, now_us()).status()));

  const auto service = ReportService(ledger(), v1::ReportServiceRequest(), Us(170 * kDayMin));
  ASSERT_TRUE(service.ok()) << service.status();
  EXPECT_EQ(service->unit_count(), 2);
  EXPECT_EQ(service->rows_size(), 2);
  EXPECT_EQ(service->rows(0).standing(), v1::SERVICE_STANDING_COMING);

  const auto doubts = ReportDoubts(ledger(), v1::ReportDoubtsRequest(), now_us());
  ASSERT_TRUE(doubts.ok()) << doubts.status();
  ASSERT_EQ(doubts->rows_size(), 1);
  EXPECT_EQ(doubts->rows(0).kind(), v1::DOUBT_KIND_TESTER_OUT_OF_DATE);
  EXPECT_EQ(doubts->testers_size(), 1);
  v1::ReportDoubtsRequest half;
  half.set_tester("T-1");
  time::SetMicros(Us(0), half.mutable_from_time());
  EXPECT_TRUE(absl::IsInvalidArgument(ReportDoubts(ledger(), half, now_us()).status()));
}

TEST_P(BenchAnswers, ArrivalsAreComparedAndExplained) {
  Ready("K-1", 0);
  Ready("K-2", 10);
  v1::AssessReturnRequest request;
  request.mutable_seen()->set_unit("K-1");
  request.mutable_seen()->set_place("north-dock");
  request.mutable_seen()->set_serial("S-K-2");
  const auto compared = AssessReturn(ledger(), request, now_us());
  ASSERT_TRUE(compared.ok()) << compared.status();
  ASSERT_EQ(compared->proposals_size(), 1);
  EXPECT_EQ(compared->proposals(0).kind(), v1::PROPOSAL_KIND_WRONG_UNIT);
  request.mutable_seen()->set_place("");
  EXPECT_TRUE(absl::IsInvalidArgument(AssessReturn(ledger(), request, now_us()).status()));

  Tell(20, "unit_missing { unit: 'K-2' }");
  Tell(30, "received_back { unit: 'K-2' place: 'north-dock' }");
  const auto strays = ReportStrays(ledger(), v1::ReportStraysRequest(), now_us());
  ASSERT_TRUE(strays.ok()) << strays.status();
  ASSERT_EQ(strays->strays_size(), 1);
  EXPECT_EQ(strays->strays(0).proposals(0).kind(), v1::PROPOSAL_KIND_FOUND);
  v1::ReportStraysRequest south;
  south.set_branch("south");
  EXPECT_EQ(ReportStrays(ledger(), south, now_us())->strays_size(), 0);
}

TEST(ReadyQuery, IsBackOnceTheLastDayOfUseIsOver) {
  v1::OrderState order;
  order.mutable_details()->set_branch("north");
  order.mutable_details()->set_length_of_need_days(21);
  order.mutable_details()->set_side(v1::SIDE_LEFT);
  const depot::Rules rules{v1::Settings()};
  unit::ReadyQuery query;
  query.at_us = kStartUs;  // 2026-03-02
  FillFromOrder(order, rules, &query);
  EXPECT_EQ(query.side, v1::SIDE_LEFT);
  EXPECT_EQ(query.expected_return_us,
            time::StartOfDayMicros(absl::CivilDay(2026, 3, 23), absl::UTCTimeZone()));
}

FERRULE_ON_EVERY_ENGINE(BenchAnswers);

}  // namespace
}  // namespace ferrule::board
