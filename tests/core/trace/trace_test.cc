// Tests core/trace/spans.cc, core/trace/exposure.cc, core/trace/proof.cc,
//   core/trace/recall_items.cc, core/trace/audit.cc, core/trace/audit_records.cc,
//   core/trace/audit_rules.cc, core/trace/survey.cc, core/ledger/span_rows.cc.
#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <map>
#include <set>
#include <string>
#include <vector>

#include "absl/strings/str_cat.h"
#include "core/trace/audit.h"
#include "core/trace/exposure.h"
#include "core/trace/proof.h"
#include "core/trace/recall_items.h"
#include "core/trace/spans.h"
#include "core/trace/survey.h"
#include "tests/support/ledger_depot.h"
#include "tests/support/stores_entries.h"

namespace ferrule::trace {
namespace {

using testing::At;
using ::testing::Contains;
using ::testing::ElementsAre;
using ::testing::HasSubstr;
using ::testing::IsEmpty;
using testing::kDayUs;
using testing::kHourUs;
using testing::kMinuteUs;
using testing::kStartUs;
using ::testing::UnorderedElementsAre;

constexpr auto kObserved = v1::ENTRY_MODE_OBSERVED;

class Traces : public testing::OnEveryEngine {
 protected:
  Traces() : depot_(GetParam()) {
    depot_.clock().Set(kStartUs + 60 * kDayUs);
    depot_.MustRecord(testing::StoresSettingsEntry());
  }

  void Tell(int64_t minutes, const std::string& fact, v1::EntryMode mode = kObserved) {
    depot_.MustRecord(At(absl::StrCat("e", ++entries_), minutes, fact, mode));
  }
  void Ready(const std::string& unit, int64_t minutes) {
    depot_.MustRecord(testing::ReceiveUnit(unit, kStartUs + minutes * kMinuteUs));
    depot_.MustRecord(
        testing::MakeReady("ready-" + unit, unit, kStartUs + (minutes + 10) * kMinuteUs));
  }
  void HandOver(const std::string& unit, const std::string& order, int64_t minutes,
                v1::EntryMode mode = v1::ENTRY_MODE_ENFORCED) {
    depot_.MustRecord(testing::TakeOrder(order, kStartUs + (minutes - 1) * kMinuteUs));
    depot_.MustRecord(
        testing::HandOver("out-" + order, unit, order, kStartUs + minutes * kMinuteUs, mode));
  }
  void PickUp(const std::string& unit, const std::string& order, int64_t minutes) {
    Tell(minutes,
         "picked_up { unit: '" + unit + "' order: '" + order + "' to_place: 'van-dirty' }");
  }

  static std::vector<std::string> Words(const google::protobuf::RepeatedPtrField<v1::Span>& spans) {
    std::vector<std::string> out;
    for (const v1::Span& span : spans) {
      const auto minute = [](const google::protobuf::Timestamp& t) {
        return (time::ToMicros(t) - kStartUs) / kMinuteUs;
      };
      out.push_back(absl::StrCat(span.subject(), " ", span.holder(), " ", minute(span.from_time()),
                                 "-",
                                 span.has_to_time() ? absl::StrCat(minute(span.to_time())) : ""));
    }
    return out;
  }
  std::vector<std::string> Holders(const std::string& name) {
    v1::ListHoldersRequest request;
    request.set_name(name);
    request.set_page_size(100);
    const auto response = ListHolders(depot_.ledger(), request, 0);
    EXPECT_TRUE(response.ok()) << response.status();
    return Words(response->spans());
  }
  std::vector<std::string> Held(const std::string& holder) {
    v1::ListHeldRequest request;
    request.set_holder(holder);
    request.set_page_size(100);
    const auto response = ListHeld(depot_.ledger(), request, 0);
    EXPECT_TRUE(response.ok()) << response.status();
    return Words(response->spans());
  }
  v1::ListRecallItemsResponse Items(const std::string& recall) {
    v1::ListRecallItemsRequest request;
    request.set_name("recalls/" + recall);
    request.set_page_size(100);
    auto response = ListRecallItems(depot_.ledger(), request, Now());
    EXPECT_TRUE(response.ok()) << response.status();
    return *response;
  }
  std::map<std::string, std::vector<std::string>> Audit() {
    const auto response = ReportAudit(depot_.ledger(), {}, Now());
    EXPECT_TRUE(response.ok()) << response.status();
    std::map<std::string, std::vector<std::string>> hits;
    for (const v1::AuditRule& rule : response->rules()) {
      for (const v1::AuditHit& hit : rule.hits()) hits[rule.rule()].push_back(hit.subject());
    }
    return hits;
  }
  int64_t Now() { return depot_.clock().NowMicros(); }

  testing::LedgerDepot depot_;
  int entries_ = 0;
};

TEST_P(Traces, SayWhoHadAUnitAndWhatAHolderHad) {
  Ready("K-1", 0);
  HandOver("K-1", "R-1", 100);
  PickUp("K-1", "R-1", 200);
  Tell(250, "received_back { unit: 'K-1' place: 'north-dock' }");
  EXPECT_THAT(Holders("units/K-1"),
              ElementsAre("units/K-1 places/north-dock 0-50", "units/K-1 places/north-shelf 50-100",
                          "units/K-1 orders/R-1 100-200", "units/K-1 places/van-dirty 200-250",
                          "units/K-1 places/north-dock 250-"));
  EXPECT_THAT(Held("orders/R-1"), ElementsAre("units/K-1 orders/R-1 100-200"));
  EXPECT_THAT(Held("places/van-dirty"), ElementsAre("units/K-1 places/van-dirty 200-250"));
  EXPECT_TRUE(depot_.MustVerify().ok());
}

TEST_P(Traces, OfLateFactsAndReversalsAreThoseOfTheWhole) {
  Ready("K-1", 0);
  Tell(300, "unit_moved { unit: 'K-1' to_place: 'north-bench' }");
  Tell(200, "unit_moved { unit: 'K-1' to_place: 'north-closet' }");
  EXPECT_THAT(
      Holders("units/K-1"),
      ElementsAre("units/K-1 places/north-dock 0-50", "units/K-1 places/north-shelf 50-200",
                  "units/K-1 places/north-closet 200-300", "units/K-1 places/north-bench 300-"));
  Tell(400, "reversal { fact { entry_id: 'e2' index: 0 } subjects: 'units/K-1' because: 'tag' }");
  EXPECT_THAT(Holders("units/K-1"),
              ElementsAre("units/K-1 places/north-dock 0-50", "units/K-1 places/north-shelf 50-300",
                          "units/K-1 places/north-bench 300-"));
  EXPECT_TRUE(depot_.MustVerify().ok());
  const std::vector<std::string> before = Holders("units/K-1");
  depot_.MustRebuild();
  EXPECT_EQ(Holders("units/K-1"), before);
}

TEST_P(Traces, ThatWereTamperedWithAreFoundAndWrittenAnew) {
  Ready("K-1", 0);
  const std::vector<std::string> before = Holders("units/K-1");
  depot_.Sql({"tamper", "UPDATE intervals SET to_us = to_us - 1 WHERE from_us = 1772438400000000"});
  const ledger::VerifyReport report = depot_.MustVerify();
  ASSERT_EQ(report.differing_states.size(), 1u);
  EXPECT_THAT(report.differing_states[0], HasSubstr("units/K-1: the stored intervals"));
  depot_.MustRebuild();
  EXPECT_TRUE(depot_.MustVerify().ok());
  EXPECT_EQ(Holders("units/K-1"), before);
}

TEST_P(Traces, AreGivenPageByPageAndWithinAWindow) {
  Ready("K-1", 0);
  for (int i = 0; i < 9; ++i) {
    Tell(100 + i, absl::StrCat("unit_moved { unit: 'K-1' to_place: '",
                               i % 2 == 0 ? "north-bench" : "north-shelf", "' }"));
  }
  v1::ListHoldersRequest request;
  request.set_name("units/K-1");
  request.set_page_size(4);
  std::vector<std::string> all;
  for (int page = 0; page < 5; ++page) {
    const auto response = ListHolders(depot_.ledger(), request, 0);
    ASSERT_TRUE(response.ok());
    for (const std::string& words : Words(response->spans())) all.push_back(words);
    request.set_page_token(response->next_page_token());
    if (request.page_token().empty()) break;
  }
  EXPECT_EQ(all, Holders("units/K-1"));
  EXPECT_EQ(all.size(), 11u);
  request.clear_page_token();
  request.set_page_size(100);
  time::SetMicros(kStartUs + 103 * kMinuteUs, request.mutable_from_time());
  time::SetMicros(kStartUs + 105 * kMinuteUs, request.mutable_to_time());
  const auto window = ListHolders(depot_.ledger(), request, 0);
  EXPECT_THAT(Words(window->spans()), ElementsAre("units/K-1 places/north-shelf 103-104",
                                                  "units/K-1 places/north-bench 104-105"));
}

TEST_P(Traces, AsKnownThenAreThoseThatWereKnown) {
  Ready("K-1", -100);
  const int64_t known_us = depot_.clock().NowMicros();
  depot_.clock().Set(known_us + kDayUs);
  Tell(-20, "unit_moved { unit: 'K-1' to_place: 'north-bench' }");
  v1::ListHoldersRequest request;
  request.set_name("units/K-1");
  request.set_page_size(100);
  time::SetMicros(known_us, request.mutable_known_time());
  const auto then = ListHolders(depot_.ledger(), request, 0);
  ASSERT_TRUE(then.ok());
  EXPECT_EQ(then->spans_size(), 2);
  request.clear_known_time();
  EXPECT_EQ(ListHolders(depot_.ledger(), request, 0)->spans_size(), 3);
}

TEST_P(Traces, FollowAPartThroughItsUnitsToThePatients) {
  Ready("K-1", 0);
  Tell(60, "part_fitted { part: 'B-1' unit: 'K-1' position: 'board' lot: 'LOT-7' }");
  HandOver("K-1", "R-1", 100, kObserved);
  PickUp("K-1", "R-1", 200);
  Tell(210, "part_removed { part: 'B-1' unit: 'K-1' position: 'board' }");
  v1::ReportPathRequest request;
  request.set_part_lot("LOT-7");
  const auto path = ReportPath(depot_.ledger(), request, 0);
  ASSERT_TRUE(path.ok());
  std::vector<std::string> holders;
  for (const v1::PathRow& row : path->rows()) {
    EXPECT_EQ(row.unit(), "K-1");
    EXPECT_EQ(row.part(), "B-1");
    holders.push_back(row.holder());
  }
  EXPECT_THAT(holders, ElementsAre("places/north-shelf", "orders/R-1", "places/van-dirty"));
  request.Clear();
  request.set_name("parts/B-1");
  EXPECT_EQ(ReportPath(depot_.ledger(), request, 0)->rows_size(), 3);
  request.Clear();
  EXPECT_FALSE(ReportPath(depot_.ledger(), request, 0).ok());
}

TEST_P(Traces, ExposureIsWhoeverMetTheSoiledUnitUntilItWasCleaned) {
  Ready("K-1", 0);
  Ready("K-2", 0);
  HandOver("K-1", "R-1", 100);
  PickUp("K-1", "R-1", 200);
  Tell(220, "unit_moved { unit: 'K-2' to_place: 'van-dirty' }");
  Tell(300, "received_back { unit: 'K-1' place: 'north-dock' }");
  depot_.MustRecord(testing::MakeReady("again", "K-1", kStartUs + 310 * kMinuteUs));
  v1::ReportExposureRequest request;
  request.set_name("units/K-1");
  const auto last = ReportExposure(depot_.ledger(), request, Now());
  ASSERT_TRUE(last.ok()) << last.status();
  EXPECT_THAT(Words(last->holders()), ElementsAre("units/K-1 places/north-dock 300-320"));
  // Asked for the pick-up, the van and what stood in it are there too.
  time::SetMicros(kStartUs + 200 * kMinuteUs, request.mutable_from_time());
  const auto pickup = ReportExposure(depot_.ledger(), request, Now());
  ASSERT_TRUE(pickup.ok()) << pickup.status();
  EXPECT_EQ(time::ToMicros(pickup->to_time()), kStartUs + 320 * kMinuteUs);
  EXPECT_THAT(Words(pickup->holders()), ElementsAre("units/K-1 places/van-dirty 200-300",
                                                    "units/K-1 places/north-dock 300-320"));
  EXPECT_THAT(Words(pickup->beside()), ElementsAre("units/K-2 places/van-dirty 220-300"));
  // Clean times have no exposure.
  time::SetMicros(kStartUs + 60 * kMinuteUs, request.mutable_from_time());
  EXPECT_EQ(ReportExposure(depot_.ledger(), request, Now()).status().code(),
            absl::StatusCode::kInvalidArgument);
}

TEST_P(Traces, AProofShowsTheChainAndWhatBrokeIt) {
  Ready("K-1", 0);
  HandOver("K-1", "R-1", 100);
  v1::GetProofRequest request;
  request.set_name("orders/R-1");
  const auto whole = GetProof(depot_.ledger(), request, Now());
  ASSERT_TRUE(whole.ok()) << whole.status();
  ASSERT_EQ(whole->legs_size(), 1);
  EXPECT_TRUE(whole->whole());
  EXPECT_EQ(time::ToMicros(whole->legs(0).cleaned().time()), kStartUs + 20 * kMinuteUs);
  EXPECT_EQ(time::ToMicros(whole->legs(0).inspected().time()), kStartUs + 40 * kMinuteUs);
  EXPECT_FALSE(whole->legs(0).has_ended());
  PickUp("K-1", "R-1", 200);
  HandOver("K-1", "R-2", 300, kObserved);
  request.set_name("orders/R-2");
  const auto broken = GetProof(depot_.ledger(), request, Now());
  ASSERT_TRUE(broken.ok());
  EXPECT_FALSE(broken->whole());
  EXPECT_FALSE(broken->legs(0).has_cleaned());
  ASSERT_GE(broken->legs(0).broken_size(), 2);
  EXPECT_THAT(broken->legs(0).broken(1).text(), HasSubstr("has not been cleaned"));

  v1::ReportViolationsRequest all;
  const auto violations = ReportViolations(depot_.ledger(), all, Now());
  ASSERT_TRUE(violations.ok());
  EXPECT_EQ(violations->issue_count(), 2);
  EXPECT_EQ(violations->whole_count(), 1);
  ASSERT_EQ(violations->legs_size(), 1);
  EXPECT_EQ(violations->legs(0).order(), "R-2");
  time::SetMicros(kStartUs + 250 * kMinuteUs, all.mutable_to_time());
  EXPECT_EQ(ReportViolations(depot_.ledger(), all, Now())->issue_count(), 1);
}

TEST_P(Traces, ARecallFindsWhateverEverHeldThePart) {
  for (const char* unit : {"K-1", "K-2", "K-3"}) Ready(unit, 0);
  Tell(60, "part_fitted { part: 'B-1' unit: 'K-1' position: 'board' lot: 'LOT-7' }");
  Tell(60, "part_fitted { part: 'B-2' unit: 'K-2' position: 'board' lot: 'LOT-7' }");
  Tell(60, "part_fitted { part: 'B-3' unit: 'K-3' position: 'board' lot: 'LOT-8' }");
  HandOver("K-1", "R-1", 100, kObserved);
  PickUp("K-1", "R-1", 200);
  Tell(210, "part_removed { part: 'B-1' unit: 'K-1' position: 'board' }");
  HandOver("K-2", "R-2", 220, kObserved);
  Tell(230,
       "recall_opened { recall: 'N-7' notice: 'notice 7' scope { part_lots: 'LOT-7' } "
       "instruction: 'replace' }");
  Tell(300, "received_back { unit: 'K-1' place: 'north-dock' }");
  v1::ListRecallItemsResponse found = Items("N-7");
  ASSERT_EQ(found.items_size(), 3);
  // The part that is in no unit, its former unit, and the unit that has the other one.
  EXPECT_EQ(found.items(0).subject(), "parts/B-1");
  EXPECT_EQ(found.items(1).subject(), "units/K-1");
  EXPECT_FALSE(found.items(1).still_in());
  EXPECT_EQ(found.items(1).holder_at_notice(), "places/van-dirty");
  EXPECT_EQ(found.items(1).holder(), "places/north-dock");
  EXPECT_THAT(found.items(1).former_orders(), ElementsAre("R-1"));
  EXPECT_EQ(found.items(2).subject(), "units/K-2");
  EXPECT_TRUE(found.items(2).still_in());
  EXPECT_EQ(found.items(2).holder(), "orders/R-2");
  EXPECT_EQ(found.totals().item_count(), 3);
  EXPECT_EQ(found.totals().at_home_count(), 1);
  EXPECT_EQ(found.totals().unaccounted_count(), 1);  // nobody knows where the loose part lies
  EXPECT_THAT(Audit()["recall-without-hold"], UnorderedElementsAre("units/K-1", "units/K-2"));

  Tell(310, "hold_placed { unit: 'K-1' kind: HOLD_KIND_RECALL reason: 'N-7' reference: 'N-7' }");
  Tell(400,
       "recall_outcome_noted { recall: 'N-7' subject: 'units/K-1' outcome: "
       "RECALL_OUTCOME_NOT_COVERED evidence: 'the part is out' }");
  Tell(500,
       "recall_outcome_noted { recall: 'N-7' subject: 'parts/B-1' outcome: "
       "RECALL_OUTCOME_DESTROYED }");
  found = Items("N-7");
  EXPECT_TRUE(found.items(1).on_hold());
  EXPECT_EQ(found.totals().done_count(), 2);
  EXPECT_EQ(found.totals().done_basis_points(), 6666);
  EXPECT_EQ(found.totals().half_done_s(), 270 * 60);
  EXPECT_THAT(Audit()["recall-without-hold"], ElementsAre("units/K-2"));
}

TEST_P(Traces, ARecallByModelSerialAndLotOfSoftGoods) {
  Ready("K-1", 0);
  Ready("K-2", 0);
  Tell(1, testing::PadsIn("L-5", "north-shelf", 5));
  Tell(50,
       "stock_issued { item: 'pad-set' lot: 'L-5' place: 'north-shelf' piece_count: 2 order: "
       "'R-9' }");
  v1::ListRecallItemsRequest request;
  request.set_page_size(100);
  request.mutable_scope()->add_lots("L-5");
  v1::SerialRange* range = request.mutable_scope()->add_serials();
  range->set_first("S-K-2");
  range->set_last("S-K-9");
  request.mutable_scope()->add_units("K-404");
  const auto found = ListRecallItems(depot_.ledger(), request, Now());
  ASSERT_TRUE(found.ok()) << found.status();
  std::vector<std::string> subjects;
  for (const v1::RecallItem& item : found->items()) subjects.push_back(item.subject());
  EXPECT_THAT(subjects, ElementsAre("lots/L-5", "orders/R-9", "units/K-2", "units/K-404"));
  EXPECT_EQ(found->items(0).piece_count(), 3);
  EXPECT_EQ(found->items(1).piece_count(), 2);
  EXPECT_EQ(found->items(3).holder(), "");
  EXPECT_EQ(found->totals().unaccounted_count(), 1);
  request.clear_scope();
  EXPECT_EQ(ListRecallItems(depot_.ledger(), request, Now()).status().code(),
            absl::StatusCode::kInvalidArgument);
}

TEST_P(Traces, TheAuditNamesEachRuleWithItsRecords) {
  EXPECT_THAT(Audit(), IsEmpty());
  Ready("K-1", 0);
  // Two units with one serial number; a part in two units; a unit out on an order unknown.
  Tell(0, "unit_received { unit: 'K-2' serial: 'S-K-1' model: 'knee-a' place: 'north-dock' }");
  Tell(10, "part_fitted { part: 'B-1' unit: 'K-1' position: 'board' }");
  Tell(20, "part_fitted { part: 'B-1' unit: 'K-2' position: 'board' }");
  Tell(30, "handed_over { unit: 'K-2' order: 'R-404' unit_model: 'knee-a' }");
  Tell(40, "hold_placed { unit: 'K-1' kind: HOLD_KIND_INCIDENT reason: 'alleged' }");
  HandOver("K-1", "R-1", 100, kObserved);
  Tell(120, "picked_up { unit: 'K-1' order: 'R-1' to_place: 'van-dirty' meter_s: 100 }");
  Tell(1, testing::PadsIn("L-5", "north-shelf", 1));
  Tell(50, "stock_issued { item: 'pad-set' lot: 'L-5' place: 'north-shelf' piece_count: 2 }");
  Tell(60, "closet_use_reported { place: 'north-closet' item: 'pad-set' piece_count: 1 }");
  Tell(60,
       "transfer_sent { transfer: 'T-1' from_place: 'north-shelf' to_place: 'west-dock' "
       "lines { item: 'walker' piece_count: 1 } }");
  Tell(10, "unit_received { unit: 'K-3' model: 'knee-a' place: 'north-shelf' }");
  Ready("K-4", 0);
  Tell(70,
       "purpose_changed { unit: 'K-4' purpose: PURPOSE_CROSS_RENTED owner: 'partner' "
       "return_date { year: 2026 month: 3 day: 20 } }");
  const auto hits = Audit();
  std::set<std::string> rules;
  for (const auto& [rule, subjects] : hits) rules.insert(rule);
  EXPECT_THAT(hits.at("serial-on-two-units"), ElementsAre("units/K-2"));
  EXPECT_THAT(hits.at("orphan-part"), Contains("parts/B-1"));
  EXPECT_THAT(hits.at("unit-and-order"), Contains("units/K-2"));
  EXPECT_THAT(hits.at("issued-while-held"), ElementsAre("units/K-1"));
  EXPECT_THAT(hits.at("left-on-van"), ElementsAre("units/K-1"));
  EXPECT_THAT(hits.at("stock-below-zero"), ElementsAre("lots/L-5"));
  EXPECT_THAT(hits.at("closet-use-without-papers"), ElementsAre("places/north-closet"));
  EXPECT_THAT(hits.at("transfer-late"), ElementsAre("transfers/T-1"));
  EXPECT_THAT(hits.at("clean-beside-soiled"), ElementsAre("units/K-4"));
  EXPECT_THAT(hits.at("rented-in-too-long"), ElementsAre("units/K-4"));
  v1::ReportAuditRequest one;
  one.add_rules("no-such-rule");
  EXPECT_EQ(ReportAudit(depot_.ledger(), one, Now()).status().code(),
            absl::StatusCode::kInvalidArgument);
  one.set_rules(0, "serial-on-two-units");
  EXPECT_EQ(ReportAudit(depot_.ledger(), one, Now())->rules_size(), 1);
}

TEST_P(Traces, ASurveyDrawsTheSameRentalsForTheSameSeed) {
  for (int i = 0; i < 6; ++i) {
    const std::string unit = absl::StrCat("K-", i);
    Ready(unit, 0);
    HandOver(unit, absl::StrCat("R-", i), 100 + i * 10);
  }
  v1::ReportSurveyRequest request;
  request.set_rental_count(3);
  request.set_seed(7);
  const auto first = ReportSurvey(depot_.ledger(), request, Now());
  ASSERT_TRUE(first.ok()) << first.status();
  EXPECT_EQ(first->rental_count(), 6);
  ASSERT_EQ(first->proofs_size(), 3);
  EXPECT_TRUE(first->proofs(0).whole());
  const auto again = ReportSurvey(depot_.ledger(), request, Now());
  EXPECT_EQ(first->SerializeAsString(), again->SerializeAsString());
  request.set_rental_count(201);
  EXPECT_FALSE(ReportSurvey(depot_.ledger(), request, Now()).ok());
}

TEST(Draw, GivesEachRentalTheSameChance) {
  std::vector<int> drawn(10);
  for (uint64_t seed = 0; seed < 10'000; ++seed) {
    const std::vector<size_t> some = Draw(10, 3, seed);
    ASSERT_EQ(some.size(), 3u);
    EXPECT_LT(some[0], some[1]);
    EXPECT_LT(some[1], some[2]);
    for (size_t i : some) ++drawn[i];
  }
  // 3,000 each; five standard deviations of a binomial count are 229.
  for (int count : drawn) EXPECT_NEAR(count, 3'000, 229);
  EXPECT_EQ(Draw(2, 5, 1).size(), 2u);
  EXPECT_THAT(Draw(0, 5, 1), IsEmpty());
}

FERRULE_ON_EVERY_ENGINE(Traces);

}  // namespace
}  // namespace ferrule::trace
