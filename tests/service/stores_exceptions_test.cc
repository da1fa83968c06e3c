// Exceptions of the warehouse and of the stores, each as a depot meets it, end to end at the API:
// the counter's refusal first, then what is recorded when it has happened all the same. One test an
// exception, by its number in the depot's list of them.
#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <string>
#include <vector>

#include "absl/strings/str_cat.h"
#include "ferrule/v1/stock_service.grpc.pb.h"
#include "ferrule/v1/trace_service.grpc.pb.h"
#include "tests/service/served_depot.h"
#include "tests/support/stores_entries.h"

namespace ferrule::service {
namespace {

using ferrule::testing::At;
using ferrule::testing::DetailsOf;
using ferrule::testing::kDayUs;
using ferrule::testing::kMinuteUs;
using ferrule::testing::kStartUs;
using ferrule::testing::PadsIn;
using ferrule::testing::ServedDepot;
using ferrule::testing::Transport;
using ::testing::Contains;
using ::testing::ElementsAre;
using ::testing::IsEmpty;

class StoresExceptions : public ::testing::Test {
 protected:
  StoresExceptions()
      : ledger_(v1::LedgerService::NewStub(depot_.Channel(Transport::kTcp))),
        subjects_(v1::DepotService::NewStub(depot_.Channel(Transport::kTcp))),
        stock_(v1::StockService::NewStub(depot_.Channel(Transport::kTcp))),
        trace_(v1::TraceService::NewStub(depot_.Channel(Transport::kTcp))) {
    Must(ferrule::testing::StoresSettingsEntry());
  }

  // The reasons for which an enforced entry is refused; empty when it was recorded.
  std::vector<std::string> Enforce(v1::Entry entry) {
    entry.set_mode(v1::ENTRY_MODE_ENFORCED);
    v1::RecordResponse response;
    const grpc::Status status = Send(std::move(entry), &response);
    std::vector<std::string> reasons;
    const testing::Details details = DetailsOf(status);
    for (const v1::Finding& finding : details.refusal.findings()) {
      EXPECT_FALSE(finding.text().empty());
      EXPECT_FALSE(finding.remedy().empty());
      reasons.push_back(v1::Reason_Name(finding.reason()).substr(7));
    }
    EXPECT_EQ(status.ok(), reasons.empty()) << status.error_message();
    return reasons;
  }
  // The questions that an observed entry opens.
  std::vector<std::string> Observe(v1::Entry entry) {
    entry.set_mode(v1::ENTRY_MODE_OBSERVED);
    v1::RecordResponse response;
    const grpc::Status status = Send(std::move(entry), &response);
    EXPECT_TRUE(status.ok()) << status.error_message();
    std::vector<std::string> reasons;
    for (const v1::Finding& finding : response.receipt().questions()) {
      reasons.push_back(v1::Reason_Name(finding.reason()).substr(7));
    }
    return reasons;
  }
  void Must(v1::Entry entry) {
    v1::RecordResponse response;
    const grpc::Status status = Send(std::move(entry), &response);
    ASSERT_TRUE(status.ok()) << status.error_message();
  }
  v1::Entry Fact(int64_t minutes, const std::string& text) {
    return At(absl::StrCat("f", ++facts_), minutes, text);
  }
  void Ready(const std::string& unit, int64_t minutes = 0) {
    Must(ferrule::testing::ReceiveUnit(unit, kStartUs + minutes * kMinuteUs));
    Must(ferrule::testing::MakeReady("ready-" + unit, unit, kStartUs + (minutes + 10) * kMinuteUs));
  }
  v1::UnitState Unit(const std::string& unit) {
    v1::GetUnitRequest request;
    request.set_name("units/" + unit);
    v1::GetUnitResponse response;
    grpc::ClientContext context;
    EXPECT_TRUE(subjects_->GetUnit(&context, request, &response).ok());
    return response.state().unit();
  }
  std::vector<std::string> WhyNot(const std::string& unit) {
    v1::AssessUnitRequest request;
    request.set_name("units/" + unit);
    v1::AssessUnitResponse response;
    grpc::ClientContext context;
    EXPECT_TRUE(subjects_->AssessUnit(&context, request, &response).ok());
    std::vector<std::string> reasons;
    for (const v1::Finding& finding : response.findings()) {
      reasons.push_back(v1::Reason_Name(finding.reason()).substr(7));
    }
    return reasons;
  }
  std::vector<std::string> Audit(const std::string& rule) {
    v1::ReportAuditRequest request;
    request.add_rules(rule);
    v1::ReportAuditResponse response;
    grpc::ClientContext context;
    EXPECT_TRUE(trace_->ReportAudit(&context, request, &response).ok());
    std::vector<std::string> subjects;
    for (const v1::AuditHit& hit : response.rules(0).hits()) subjects.push_back(hit.subject());
    return subjects;
  }
  v1::GetCountResponse Count(const std::string& count) {
    v1::GetCountRequest request;
    request.set_name("counts/" + count);
    v1::GetCountResponse response;
    grpc::ClientContext context;
    const grpc::Status status = stock_->GetCount(&context, request, &response);
    EXPECT_TRUE(status.ok()) << status.error_message();
    return response;
  }
  std::string HipOrder(const std::string& order) {
    return "order_taken { order: '" + order +
           "' details { patient: 'P-1' prescriber: 'D-1' branch: 'north' device_class: 'hip' "
           "side: SIDE_LEFT procedure: 'hip replacement' "
           "surgery_date { year: 2026 month: 3 day: 5 } length_of_need_days: 21 "
           "motion { extension_deg: 0 flexion_deg: 90 speed_deg_per_min: 60 } } }";
  }
  std::string HipOut(const std::string& unit, const std::string& order, const std::string& kit) {
    return "handed_over { unit: '" + unit + "' order: '" + order +
           "' unit_model: 'hip-b' signed_by: 'patient' " + kit +
           " motion { extension_deg: 0 flexion_deg: 40 speed_deg_per_min: 60 } }";
  }
  void ReadyHip(const std::string& unit) {
    Must(Fact(0, "unit_received { unit: '" + unit + "' model: 'hip-b' place: 'north-dock' }"));
    Must(ferrule::testing::MakeReady("ready-" + unit, unit, kStartUs + 10 * kMinuteUs));
  }

  ServedDepot depot_;
  std::unique_ptr<v1::LedgerService::Stub> ledger_;
  std::unique_ptr<v1::DepotService::Stub> subjects_;
  std::unique_ptr<v1::StockService::Stub> stock_;
  std::unique_ptr<v1::TraceService::Stub> trace_;

 private:
  grpc::Status Send(v1::Entry entry, v1::RecordResponse* response) {
    v1::RecordRequest request;
    *request.mutable_entry() = std::move(entry);
    grpc::ClientContext context;
    return ledger_->Record(&context, request, response);
  }
  int facts_ = 0;
};

// 62: pads or single-patient parts reused.
TEST_F(StoresExceptions, E62PadsReusedAreVisibleAndBlocked) {
  ReadyHip("H-1");
  ReadyHip("H-2");
  Must(Fact(60, HipOrder("R-1")));
  Must(Fact(60, HipOrder("R-2")));
  Must(Fact(60, PadsIn("L-5", "north-shelf", 1)));
  // Without a kit nothing goes out.
  EXPECT_THAT(Enforce(Fact(90, HipOut("H-1", "R-1", ""))), ElementsAre("KIT_MISSING"));
  const std::string kit = "kit { item: 'pad-set' lot: 'L-5' piece_count: 1 }";
  EXPECT_THAT(Enforce(Fact(91, HipOut("H-1", "R-1", kit))), IsEmpty());
  // The one piece went to the first patient: the second one would get it used.
  EXPECT_THAT(Enforce(Fact(95, HipOut("H-2", "R-2", kit))), Contains("LOT_USED_BY_OTHER_PATIENT"));
  EXPECT_THAT(Observe(Fact(95, HipOut("H-2", "R-2", kit))), Contains("LOT_USED_BY_OTHER_PATIENT"));
  EXPECT_THAT(Audit("stock-below-zero"), ElementsAre("lots/L-5"));
  // And nothing that one patient used goes back on the shelf.
  EXPECT_THAT(Enforce(Fact(99,
                           "stock_returned { item: 'pad-set' lot: 'L-5' place: 'north-shelf' "
                           "piece_count: 1 order: 'R-1' }")),
              ElementsAre("SINGLE_PATIENT_RETURNED"));
}

// 73: clean stored against dirty.
TEST_F(StoresExceptions, E73CleanStoredAgainstDirtyFallsToDirty) {
  Ready("K-1");
  Must(Fact(60, "unit_received { unit: 'K-2' model: 'knee-a' place: 'north-dock' }"));
  // A soiled unit does not go onto the clean shelf at the counter.
  EXPECT_THAT(Enforce(Fact(70, "unit_moved { unit: 'K-2' to_place: 'north-shelf' }")),
              ElementsAre("SOILED_INTO_CLEAN_PLACE"));
  EXPECT_THAT(Observe(Fact(70, "unit_moved { unit: 'K-2' to_place: 'north-shelf' }")),
              ElementsAre("SOILED_INTO_CLEAN_PLACE"));
  EXPECT_THAT(Audit("clean-beside-soiled"), ElementsAre("units/K-1"));
  // The clean one that goes into a soiled place is soiled, and cleaned again before it goes out.
  Must(Fact(80, "unit_moved { unit: 'K-1' to_place: 'van-dirty' }"));
  EXPECT_EQ(Unit("K-1").hygiene(), v1::HYGIENE_SOILED);
  EXPECT_THAT(WhyNot("K-1"), Contains("NOT_CLEANED"));
}

// 74: stocktake mismatch.
TEST_F(StoresExceptions, E74AStocktakeIsBlindRecountedExplainedApprovedAndNeverNetted) {
  for (const char* unit : {"K-1", "K-2"}) Ready(unit);
  Must(Fact(60, PadsIn("L-5", "north-shelf", 10)));
  Must(Fact(60, PadsIn("L-6", "north-shelf", 10)));
  Must(Fact(100, absl::StrCat("count_opened { count: 'C-1' places: 'north-shelf' cut_off_time { "
                              "seconds: ",
                              kStartUs / 1'000'000 + 6'000, " } }")));
  EXPECT_EQ(Count("C-1").expected_count(), 0) << "the count is blind";
  const std::string seen =
      "count_tallied { count: 'C-1' place: 'north-shelf' units: 'K-1' "
      "lines { item: 'pad-set' lot: 'L-5' piece_count: 12 } "
      "lines { item: 'pad-set' lot: 'L-6' piece_count: 8 } ";
  Must(Fact(110, seen + "}"));
  v1::GetCountResponse count = Count("C-1");
  EXPECT_EQ(count.plus_count(), 2);
  EXPECT_EQ(count.minus_count(), 3);
  ASSERT_EQ(count.differences_size(), 3);
  // Unexplained differences are counted again, by the rule, and approved by somebody else.
  v1::Entry close = Fact(120, "count_closed { count: 'C-1' approved_by: 'tech-ada' }");
  for (const v1::CountLine& line : count.differences()) {
    *close.mutable_facts(0)->mutable_count_closed()->add_differences() = line.difference();
  }
  EXPECT_THAT(Enforce(close), ElementsAre("COUNT_NOT_RECOUNTED", "COUNT_NOT_RECOUNTED",
                                          "COUNT_NOT_RECOUNTED", "COUNT_APPROVER_COUNTED"));
  Must(Fact(115, seen + "round: 2 }"));
  // A later scan explains the missing unit.
  Must(Fact(117, "unit_moved { unit: 'K-2' to_place: 'van-clean' }"));
  count = Count("C-1");
  EXPECT_EQ(count.differences(0).difference().explanation(), v1::COUNT_EXPLANATION_LATER_SCAN);
  close = Fact(121, "count_closed { count: 'C-1' approved_by: 'lead-eve' }");
  for (const v1::CountLine& line : count.differences()) {
    *close.mutable_facts(0)->mutable_count_closed()->add_differences() = line.difference();
  }
  for (const char* change : {"lot: 'L-5' change_count: 2", "lot: 'L-6' change_count: -2"}) {
    ferrule::testing::AddFact(kStartUs + 121 * kMinuteUs,
                              absl::StrCat("stock_adjusted { item: 'pad-set' place: 'north-shelf' "
                                           "count: 'C-1' approved_by: 'lead-eve' ",
                                           change, " }"),
                              &close);
  }
  EXPECT_THAT(Enforce(close), IsEmpty());
  count = Count("C-1");
  EXPECT_EQ(count.count().gained_count(), 2);
  EXPECT_EQ(count.count().lost_count(), 2);
  EXPECT_EQ(count.count().approved_by(), "lead-eve");
}

// 75: count while things move.
TEST_F(StoresExceptions, E75WhatMovesAfterTheCutOffIsNoDifference) {
  Ready("K-1");
  Ready("K-2");
  Must(Fact(100, absl::StrCat("count_opened { count: 'C-1' places: 'north-shelf' cut_off_time { "
                              "seconds: ",
                              kStartUs / 1'000'000 + 6'000, " } }")));
  Must(Fact(105, "unit_moved { unit: 'K-1' to_place: 'van-clean' }"));
  Must(Fact(110, "count_tallied { count: 'C-1' place: 'north-shelf' units: 'K-2' }"));
  const v1::GetCountResponse count = Count("C-1");
  EXPECT_EQ(count.differences_size(), 0);
  EXPECT_EQ(count.expected_count(), 2);
  EXPECT_EQ(count.moves_size(), 1);
}

// 76: transfer sent, not received.
TEST_F(StoresExceptions, E76ATransferThatDoesNotArriveIsAnAlarmUntilEachEndConfirms) {
  Ready("K-1");
  Must(Fact(100,
            "transfer_sent { transfer: 'T-1' from_place: 'north-shelf' to_place: 'west-dock' "
            "units: 'K-1' seal: 'Z-5' carrier: 'van-3' }"));
  EXPECT_THAT(WhyNot("K-1"), ElementsAre("IN_TRANSIT"));
  EXPECT_THAT(Audit("transfer-late"), ElementsAre("transfers/T-1"));
  v1::ListTransfersResponse response;
  grpc::ClientContext context;
  ASSERT_TRUE(stock_->ListTransfers(&context, {}, &response).ok());
  ASSERT_EQ(response.transfers_size(), 1);
  EXPECT_TRUE(response.transfers(0).late());
  EXPECT_EQ(response.transfers(0).transfer().carrier(), "van-3");
  // Somebody moves it as if it had never been sent.
  EXPECT_THAT(Enforce(Fact(200, "unit_moved { unit: 'K-1' to_place: 'north-bench' }")),
              ElementsAre("IN_TRANSIT"));
  Must(Fact(300,
            "transfer_received { transfer: 'T-1' place: 'west-shelf' units: 'K-1' seal: 'Z-5' }"));
  EXPECT_THAT(WhyNot("K-1"), IsEmpty());
  EXPECT_THAT(Audit("transfer-late"), IsEmpty());
  // What was never sent is asked at the other end.
  EXPECT_THAT(
      Observe(Fact(400, "transfer_received { transfer: 'T-2' place: 'west-dock' units: 'K-1' }")),
      Contains("NOT_SENT_WITH_TRANSFER"));
}

// 77: same serial on two units, or a worn label.
TEST_F(StoresExceptions, E77TheSameSerialOnTwoUnitsIsFlaggedNotRefused) {
  Must(Fact(0, "unit_received { unit: 'K-1' serial: 'S-9' model: 'knee-a' place: 'north-dock' }"));
  EXPECT_THAT(
      Enforce(Fact(
          1, "unit_received { unit: 'K-2' serial: 'S-9' model: 'knee-a' place: 'north-dock' }")),
      IsEmpty());
  EXPECT_THAT(Audit("serial-on-two-units"), ElementsAre("units/K-2"));
  v1::ListUnitsRequest request;
  request.set_serial("S-9");
  v1::ListUnitsResponse response;
  grpc::ClientContext context;
  ASSERT_TRUE(subjects_->ListUnits(&context, request, &response).ok());
  EXPECT_EQ(response.units_size(), 2) << "the own tag is the key";
}

// 78: evidence destroyed: an incident unit is cleaned.
TEST_F(StoresExceptions, E78AnIncidentUnitIsNotCleanedAndIfItWasThatIsRecorded) {
  Ready("K-1");
  Must(Fact(100, "hold_placed { unit: 'K-1' kind: HOLD_KIND_INCIDENT reason: 'strap tore' }"));
  const std::string cleaning =
      absl::StrCat("cleaning_finished { unit: 'K-1' product: 'wipe' wet_from_time { seconds: ",
                   kStartUs / 1'000'000 + 6'100,
                   " } wet_to_time { seconds: ", kStartUs / 1'000'000 + 6'300, " } }");
  EXPECT_THAT(Enforce(Fact(110, cleaning)), Contains("INCIDENT_NOT_TO_BE_CLEANED"));
  EXPECT_THAT(Observe(Fact(110, cleaning)), Contains("INCIDENT_NOT_TO_BE_CLEANED"));
  v1::ListQuestionsRequest request;
  request.set_subject("units/K-1");
  v1::ListQuestionsResponse response;
  grpc::ClientContext context;
  ASSERT_TRUE(subjects_->ListQuestions(&context, request, &response).ok());
  EXPECT_GE(response.questions_size(), 1) << "it stays open until somebody answers for it";
}

// 79: cross-rented unit in our stock.
TEST_F(StoresExceptions, E79ACrossRentedUnitHasItsOwnerPapersAndReturnDay) {
  Ready("K-1");
  Must(Fact(100,
            "purpose_changed { unit: 'K-1' purpose: PURPOSE_CROSS_RENTED owner: 'partner' "
            "return_date { year: 2026 month: 3 day: 20 } papers: 'service record 2026-02' }"));
  const v1::UnitState unit = Unit("K-1");
  EXPECT_EQ(unit.owner(), "partner");
  EXPECT_THAT(unit.papers(), ElementsAre("service record 2026-02"));
  EXPECT_THAT(WhyNot("K-1"), IsEmpty()) << "it may go out";
  // The depot's clock stands at the first of April.
  EXPECT_THAT(Audit("rented-in-too-long"), ElementsAre("units/K-1"));
  v1::ListHoldersRequest request;
  request.set_name("units/K-1");
  v1::ListHoldersResponse response;
  grpc::ClientContext context;
  ASSERT_TRUE(trace_->ListHolders(&context, request, &response).ok());
  bool seen = false;
  for (const v1::Span& span : response.spans()) {
    if (span.kind() != v1::SPAN_KIND_PURPOSE) continue;
    seen = true;
    EXPECT_EQ(span.detail(), "cross-rented");
    EXPECT_EQ(span.holder(), "partner");
  }
  EXPECT_TRUE(seen) << "what is not ours is known by its days, for the utilisation";
}

// 80: demo, training and loaner units.
TEST_F(StoresExceptions, E80DemoAndLoanerUnitsAreOutsideTheFleetByDateNotByDeletion) {
  Ready("K-1");
  Must(Fact(100, "purpose_changed { unit: 'K-1' purpose: PURPOSE_DEMONSTRATION }"));
  EXPECT_THAT(WhyNot("K-1"), ElementsAre("OUTSIDE_RENTAL_FLEET"));
  Must(Fact(200, "purpose_changed { unit: 'K-1' purpose: PURPOSE_RENTAL }"));
  EXPECT_THAT(WhyNot("K-1"), IsEmpty());
  v1::ListHoldersRequest request;
  request.set_name("units/K-1");
  v1::ListHoldersResponse response;
  grpc::ClientContext context;
  ASSERT_TRUE(trace_->ListHolders(&context, request, &response).ok());
  std::vector<std::string> purposes;
  for (const v1::Span& span : response.spans()) {
    if (span.kind() == v1::SPAN_KIND_PURPOSE) {
      purposes.push_back(absl::StrCat(span.detail(), " ",
                                      (span.to_time().seconds() - span.from_time().seconds()) / 60,
                                      " minutes"));
    }
  }
  EXPECT_THAT(purposes, ElementsAre("demonstration 100 minutes"));
}

// 81: labels say clean but the seal is broken.
TEST_F(StoresExceptions, E81ABrokenSealMeansDirtyWhateverTheLabelSays) {
  Ready("K-1");
  EXPECT_THAT(WhyNot("K-1"), IsEmpty());
  Must(Fact(100, "seal_broken { unit: 'K-1' seal: 'Z-5' words: 'bag torn' }"));
  EXPECT_EQ(Unit("K-1").hygiene(), v1::HYGIENE_SOILED);
  EXPECT_THAT(WhyNot("K-1"), Contains("NOT_CLEANED"));
}

}  // namespace
}  // namespace ferrule::service
