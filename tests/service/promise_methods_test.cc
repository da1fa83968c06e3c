#include "service/promise_methods.h"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <string>
#include <vector>

#include "absl/strings/str_cat.h"
#include "ferrule/v1/promise_service.grpc.pb.h"
#include "tests/service/served_depot.h"
#include "tests/support/folded_depot.h"

namespace ferrule::testing {
namespace {

using ::testing::ElementsAre;
using ::testing::HasSubstr;
using ::testing::IsEmpty;
using Stub = v1::PromiseService::StubInterface;

// Four knees, two branches a day apart. Now is Monday, 2 March 2026, noon UTC.
class PromiseMethods : public ::testing::Test {
 protected:
  PromiseMethods() : promises_(v1::PromiseService::NewStub(depot_.Channel(Transport::kTcp))) {
    depot_.clock().Set(kStartUs + 4 * kHourUs);
    Record(EntryOf(
        "settings", kStartUs - kDayUs,
        "settings_put { settings {" + SmallSettings() +
            "promise_policy { turnaround_days: 1 soft_hours: 48 } planning { transfer_lanes { "
            "from_branch: "
            "'west' to_branch: 'north' transit_days: 1 } } } from_time { seconds: 1767225600 } }"));
  }

  absl::StatusOr<v1::Receipt> Try(v1::Entry entry) {
    return depot_.host().ledger().RecordAndWait(std::move(entry));
  }
  void Record(v1::Entry entry) {
    const auto receipt = Try(std::move(entry));
    ASSERT_TRUE(receipt.ok()) << receipt.status();
  }
  void Ready(const std::string& unit, const std::string& shelf = "north-shelf") {
    Record(ReceiveUnit(unit, kStartUs - 60 * kDayUs));
    Record(MakeReady("ready-" + unit, unit, kStartUs - 60 * kDayUs + kHourUs));
    if (shelf == "north-shelf") return;
    Record(EntryOf("move-" + unit, kStartUs - 59 * kDayUs,
                   "unit_moved { unit: '" + unit + "' to_place: '" + shelf + "' }"));
  }
  // Needed on a day of March.
  void Take(const std::string& order, int needed, const std::string& more = "") {
    Record(EntryOf("take-" + order, kStartUs + kHourUs,
                   absl::StrCat("order_taken { order: '", order,
                                "' details { patient: 'P-1' prescriber: 'D-1' branch: 'north' "
                                "device_class: 'knee' side: SIDE_LEFT procedure: 'x' "
                                "surgery_date { year: 2026 month: 3 day: ",
                                needed, " } needed_date { year: 2026 month: 3 day: ", needed,
                                " } length_of_need_days: 14 motion { extension_deg: 0 "
                                "flexion_deg: 90 } ",
                                more, " } }")));
  }
  // Out since so many days.
  void Out(const std::string& unit, const std::string& order, int days_ago) {
    Record(EntryOf("take-" + order, kStartUs - 40 * kDayUs,
                   "order_taken { order: '" + order +
                       "' details { patient: 'P-1' prescriber: 'D-1' branch: 'north' "
                       "device_class: 'knee' side: SIDE_LEFT procedure: 'x' needed_date { year: "
                       "2026 month: 2 day: 9 } length_of_need_days: 14 motion { extension_deg: 0 "
                       "flexion_deg: 90 } } }"));
    Record(HandOver("out-" + order, unit, order, kStartUs - days_ago * kDayUs));
  }

  template <class Request, class Response>
  grpc::Status Ask(grpc::Status (Stub::*method)(grpc::ClientContext*, const Request&, Response*),
                   const Request& request, Response* response) {
    grpc::ClientContext context;
    return (static_cast<Stub*>(promises_.get())->*method)(&context, request, response);
  }
  v1::AssessPromiseResponse Promise(const std::string& order, bool firm = false) {
    v1::AssessPromiseRequest request;
    request.set_name("orders/" + order);
    request.set_firm(firm);
    v1::AssessPromiseResponse response;
    const grpc::Status status = Ask(&Stub::AssessPromise, request, &response);
    EXPECT_TRUE(status.ok()) << status.error_message();
    return response;
  }
  v1::AssessMoveResponse Move(const std::string& order, int day) {
    v1::AssessMoveRequest request;
    request.set_name("orders/" + order);
    *request.mutable_surgery_date() = time::FromDay(absl::CivilDay(2026, 3, day));
    v1::AssessMoveResponse response;
    const grpc::Status status = Ask(&Stub::AssessMove, request, &response);
    EXPECT_TRUE(status.ok()) << status.error_message();
    return response;
  }
  static v1::Entry EntryWith(const google::protobuf::RepeatedPtrField<v1::Fact>& facts,
                             const std::string& id) {
    v1::Entry entry;
    entry.set_entry_id(id);
    entry.set_actor("intake-ida");
    *entry.mutable_facts() = facts;
    return entry;
  }

  ServedDepot depot_;
  std::unique_ptr<v1::PromiseService::Stub> promises_;
};

TEST_F(PromiseMethods, AReadyUnitIsAYesThatCanBeRecorded) {
  Ready("K-1");
  Take("R-1", 14);
  const v1::AssessPromiseResponse answer = Promise("R-1");
  EXPECT_EQ(answer.verdict(), v1::PROMISE_VERDICT_YES);
  EXPECT_EQ(answer.odds_permille(), 1000);
  ASSERT_EQ(answer.sources_size(), 1);
  EXPECT_EQ(answer.sources(0).standing(), "ready");
  ASSERT_EQ(answer.proposal_size(), 1);
  Record(EntryWith(answer.proposal(), "promise-1"));
  const auto unit = depot_.host().ledger().Get("units/K-1");
  ASSERT_EQ((*unit)->unit().promises_size(), 1);
  EXPECT_EQ((*unit)->unit().promises(0).from_date().day(), 14);
  EXPECT_TRUE((*unit)->unit().promises(0).has_until_time()) << "a soft one lapses by the settings";
}

TEST_F(PromiseMethods, TheLastUnitIsPromisedOnce) {
  Ready("K-1");
  Take("R-1", 14);
  Take("R-2", 15);
  // Both clerks ask before either records: R-2 would wait behind R-1, so it is asked first alone.
  const v1::AssessPromiseResponse one = Promise("R-1", true);
  v1::AssessPromiseResponse other = one;
  for (v1::Fact& fact : *other.mutable_proposal()) fact.mutable_unit_promised()->set_order("R-2");
  Record(EntryWith(one.proposal(), "promise-1"));
  const auto late = Try(EntryWith(other.proposal(), "promise-2"));
  ASSERT_FALSE(late.ok());
  EXPECT_THAT(Reasons(ledger::RefusalOf(late.status())->findings()),
              ElementsAre("PROMISED_DAYS_TAKEN"));
  const v1::AssessPromiseResponse again = Promise("R-2");
  EXPECT_EQ(again.verdict(), v1::PROMISE_VERDICT_NO);
  EXPECT_TRUE(again.proposal().empty());
  ASSERT_EQ(again.claims_size(), 1);
  EXPECT_EQ(again.claims(0).order(), "R-1");
  EXPECT_TRUE(again.claims(0).firm());
  ASSERT_TRUE(again.has_earliest_date());
  EXPECT_GT(time::ToDay(again.earliest_date()), absl::CivilDay(2026, 3, 27));
}

TEST_F(PromiseMethods, ADueBackIsLikelyAndAYesLater) {
  Ready("K-1");
  Out("K-1", "R-0", 10);  // due on 5 March
  Take("R-1", 7);
  const v1::AssessPromiseResponse soon = Promise("R-1");
  EXPECT_EQ(soon.sources(0).standing(), "on rent with R-0, due 2026-03-05");
  EXPECT_EQ(soon.verdict(), v1::PROMISE_VERDICT_NO) << soon.odds_permille();
  EXPECT_TRUE(soon.has_earliest_date());
  Take("R-2", 11);
  v1::AssessPromiseRequest request;
  request.set_device_class("knee");
  request.set_side(v1::SIDE_LEFT);
  request.set_branch("north");
  *request.mutable_date() = time::FromDay(absl::CivilDay(2026, 4, 27));
  v1::AssessPromiseResponse later;
  ASSERT_TRUE(Ask(&Stub::AssessPromise, request, &later).ok());
  EXPECT_GT(later.odds_permille(), soon.odds_permille());
  EXPECT_TRUE(later.proposal().empty()) << "nobody to promise it to";
}

TEST_F(PromiseMethods, AnotherBranchIsNamedWithItsWay) {
  Ready("W-1", "west-shelf");
  Take("R-1", 14);
  const v1::AssessPromiseResponse answer = Promise("R-1");
  EXPECT_EQ(answer.verdict(), v1::PROMISE_VERDICT_NO);
  ASSERT_EQ(answer.elsewhere_size(), 1);
  EXPECT_EQ(answer.elsewhere(0).branch(), "west");
  EXPECT_EQ(answer.elsewhere(0).odds_permille(), 1000);
  EXPECT_EQ(answer.elsewhere(0).earliest_date().day(), 14);
}

TEST_F(PromiseMethods, WhoeverWaitsIsServedByTheDayOfTheOperation) {
  Ready("K-1");
  Take("R-3", 20);
  Take("R-1", 18);
  Take("R-2", 19);
  for (const char* order : {"R-3", "R-1", "R-2"}) {
    Record(EntryOf(absl::StrCat("wait-", order), kStartUs + 2 * kHourUs,
                   absl::StrCat("waiting_noted { order: '", order, "' reason: 'none ready' }")));
  }
  v1::ListWaitingRequest request;
  request.set_page_size(2);
  v1::ListWaitingResponse page;
  ASSERT_TRUE(Ask(&Stub::ListWaiting, request, &page).ok());
  ASSERT_EQ(page.rows_size(), 2);
  EXPECT_EQ(page.rows(0).order(), "R-1");
  EXPECT_EQ(page.rows(1).order(), "R-2");
  request.set_page_token(page.next_page_token());
  ASSERT_TRUE(Ask(&Stub::ListWaiting, request, &page).ok());
  ASSERT_EQ(page.rows_size(), 1);
  EXPECT_EQ(page.rows(0).order(), "R-3");
  EXPECT_EQ(page.next_page_token(), "");
  // The one unit goes to the first in the line.
  EXPECT_EQ(Promise("R-1").verdict(), v1::PROMISE_VERDICT_YES);
  EXPECT_EQ(Promise("R-3").verdict(), v1::PROMISE_VERDICT_NO);
}

TEST_F(PromiseMethods, AMovedOperationShowsWhatBreaksBeforeItIsApplied) {
  Ready("K-1");
  Take("R-1", 4);
  Record(EntryWith(Promise("R-1", true).proposal(), "promise-1"));
  Take("R-2", 26);
  const v1::AssessPromiseResponse second = Promise("R-2", true);
  ASSERT_FALSE(second.proposal().empty()) << second.odds_permille();
  Record(EntryWith(second.proposal(), "promise-2"));
  const int64_t before = depot_.host().ledger().head().sequence;
  const v1::AssessMoveResponse move = Move("R-1", 14);
  EXPECT_EQ(depot_.host().ledger().head().sequence, before) << "nothing is applied";
  ASSERT_GE(move.moved_size(), 4);
  EXPECT_EQ(move.moved(0).what(), "operation");
  EXPECT_EQ(move.moved(0).after_date().day(), 14);
  ASSERT_EQ(move.promises_size(), 1);
  EXPECT_EQ(move.promises(0).order(), "R-2");
  EXPECT_TRUE(move.promises(0).broken());
  EXPECT_EQ(move.promises(0).other_unit(), "");
  EXPECT_EQ(move.broken_count(), 1);
  // A second unit takes R-1 for its new days, and nothing breaks when it is applied.
  Ready("K-2");
  const v1::AssessMoveResponse better = Move("R-1", 14);
  EXPECT_EQ(better.promises(0).other_unit(), "K-2");
  Record(EntryWith(better.proposal(), "then-move-1"));
  const auto order = depot_.host().ledger().Get("orders/R-1");
  EXPECT_EQ((*order)->order().promise().unit(), "K-2");
  EXPECT_EQ((*order)->order().promise().from_date().day(), 14);
  EXPECT_EQ((*order)->order().details().surgery_date().day(), 14);
  EXPECT_THAT((*order)->questions(), IsEmpty());
}

TEST_F(PromiseMethods, AMoveThatTouchesNobodySaysSo) {
  Ready("K-1");
  Take("R-1", 14);
  Record(EntryWith(Promise("R-1", true).proposal(), "promise-1"));
  const v1::AssessMoveResponse move = Move("R-1", 17);
  EXPECT_THAT(move.promises(), IsEmpty());
  EXPECT_EQ(move.broken_count(), 0);
  ASSERT_EQ(move.proposal_size(), 3);  // changed, released, promised anew
  Record(EntryWith(move.proposal(), "then-move-1"));
  const auto unit = depot_.host().ledger().Get("units/K-1");
  EXPECT_EQ((*unit)->unit().promises(0).from_date().day(), 17);
}

TEST_F(PromiseMethods, AMoveAfterTheHandOverTellsOfIdleDays) {
  Ready("K-1");
  Take("R-1", 14);
  Record(HandOver("out", "K-1", "R-1", kStartUs + 2 * kHourUs));
  const v1::AssessMoveResponse move = Move("R-1", 17);
  ASSERT_EQ(move.notes_size(), 1);
  EXPECT_THAT(move.notes(0), HasSubstr("stand idle 3 days longer"));
  ASSERT_EQ(move.proposal_size(), 1);
}

TEST_F(PromiseMethods, PromisesThatStandAreReportedWithTheirOddsNow) {
  Ready("K-1");
  Take("R-1", 14);
  Record(EntryWith(Promise("R-1", true).proposal(), "promise-1"));
  v1::ReportPromisesRequest request;
  v1::ReportPromisesResponse report;
  ASSERT_TRUE(Ask(&Stub::ReportPromises, request, &report).ok());
  ASSERT_EQ(report.rows_size(), 1);
  EXPECT_EQ(report.rows(0).odds_permille(), 1000);
  request.set_in_danger(true);
  ASSERT_TRUE(Ask(&Stub::ReportPromises, request, &report).ok());
  EXPECT_EQ(report.rows_size(), 0);
  Record(EntryOf("hold", kStartUs + 3 * kHourUs,
                 "hold_placed { unit: 'K-1' kind: HOLD_KIND_RECALL reason: 'notice 7' }"));
  ASSERT_TRUE(Ask(&Stub::ReportPromises, request, &report).ok());
  ASSERT_EQ(report.rows_size(), 1);
  EXPECT_EQ(report.rows(0).odds_permille(), 0);
  EXPECT_EQ(report.rows(0).standing(), "on hold (recall)");
}

TEST_F(PromiseMethods, BadQuestionsGetASentence) {
  const auto refused = [this](const std::string& text) {
    v1::AssessPromiseRequest request;
    if (!google::protobuf::TextFormat::ParseFromString(text, &request)) ADD_FAILURE() << text;
    v1::AssessPromiseResponse response;
    const grpc::Status status = Ask(&Stub::AssessPromise, request, &response);
    return absl::StrCat(status.error_code(), " ", status.error_message());
  };
  const std::string day = "date { year: 2026 month: 3 day: 14 } ";
  EXPECT_THAT(refused("device_class: 'knee' branch: 'north'"), HasSubstr("3 the day is missing"));
  EXPECT_THAT(refused(day), HasSubstr("3 the branch or the class of device is not known"));
  EXPECT_THAT(refused("device_class: 'knee' branch: 'nowhere' " + day),
              HasSubstr("5 there is no branch nowhere"));
  EXPECT_THAT(refused("device_class: 'bed' branch: 'north' " + day),
              HasSubstr("5 there is no class of device bed"));
  EXPECT_THAT(refused("name: 'orders/R-9'"), HasSubstr("5 "));
  EXPECT_THAT(refused("device_class: 'knee' branch: 'north' date { year: 2026 month: 3 day: 1 }"),
              HasSubstr("3 2026-03-01 is over at that branch"));
  EXPECT_THAT(refused("device_class: 'knee' branch: 'north' days: 900 " + day),
              HasSubstr("3 days is 900"));
  EXPECT_THAT(refused("device_class: 'knee' branch: 'north' unit_count: 99 " + day),
              HasSubstr("3 unit_count is 99"));
}

}  // namespace
}  // namespace ferrule::testing
