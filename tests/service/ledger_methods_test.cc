#include "service/ledger_methods.h"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <string>

#include "absl/strings/str_cat.h"
#include "tests/service/served_depot.h"
#include "tests/support/entries.h"

namespace ferrule::service {
namespace {

using ferrule::testing::Details;
using ferrule::testing::DetailsOf;
using ferrule::testing::EntryOf;
using ferrule::testing::kDayUs;
using ferrule::testing::kHourUs;
using ferrule::testing::kStartUs;
using ferrule::testing::ServedDepot;
using ferrule::testing::Transport;
using ::testing::HasSubstr;
using ::testing::Not;

class LedgerMethods : public ::testing::TestWithParam<Transport> {
 protected:
  LedgerMethods()
      : channel_(depot_.Channel(GetParam())), stub_(v1::LedgerService::NewStub(channel_)) {}

  grpc::Status Record(v1::Entry entry, v1::RecordResponse* response, bool validate_only = false) {
    grpc::ClientContext context;
    v1::RecordRequest request;
    *request.mutable_entry() = std::move(entry);
    request.set_validate_only(validate_only);
    return stub_->Record(&context, request, response);
  }
  v1::Receipt MustRecord(v1::Entry entry) {
    v1::RecordResponse response;
    const grpc::Status status = Record(std::move(entry), &response);
    EXPECT_TRUE(status.ok()) << status.error_message();
    return response.receipt();
  }
  // A unit that was repaired after its inspection, and an order for it.
  void UnitRepairedAfterInspection() {
    MustRecord(ferrule::testing::SettingsEntry());
    MustRecord(ferrule::testing::ReceiveUnit("K-1", kStartUs));
    MustRecord(ferrule::testing::MakeReady("ready", "K-1", kStartUs + kHourUs));
    MustRecord(EntryOf("open", kStartUs + 3 * kHourUs,
                       "repair_opened { unit: 'K-1' complaint: 'cable' }"));
    MustRecord(EntryOf("close", kStartUs + 4 * kHourUs, "repair_closed { unit: 'K-1' }"));
    MustRecord(ferrule::testing::TakeOrder("R-1", kStartUs + 5 * kHourUs));
  }

  ServedDepot depot_;
  std::shared_ptr<grpc::Channel> channel_;
  std::unique_ptr<v1::LedgerService::Stub> stub_;
};

INSTANTIATE_TEST_SUITE_P(Transports, LedgerMethods,
                         ::testing::Values(Transport::kInProcess, Transport::kTcp,
                                           Transport::kSocket),
                         ferrule::testing::TransportName);

TEST_P(LedgerMethods, RecordGivesAReceiptAndARepeatGivesItAgain) {
  const v1::Receipt first = MustRecord(ferrule::testing::SettingsEntry());
  EXPECT_EQ(first.sequence(), 1);
  EXPECT_EQ(first.digest().size(), 32u);
  EXPECT_FALSE(first.repeated());
  const v1::Receipt again = MustRecord(ferrule::testing::SettingsEntry());
  EXPECT_TRUE(again.repeated());
  EXPECT_EQ(again.sequence(), first.sequence());
  EXPECT_EQ(again.digest(), first.digest());
}

TEST_P(LedgerMethods, SameIdWithOtherContentIsInvalidAndChangesNothing) {
  MustRecord(ferrule::testing::SettingsEntry());
  v1::Entry other = ferrule::testing::SettingsEntry();
  other.set_actor("tech-bo");
  v1::RecordResponse response;
  const grpc::Status status = Record(other, &response);
  EXPECT_EQ(status.error_code(), grpc::StatusCode::INVALID_ARGUMENT);
  const Details details = DetailsOf(status);
  EXPECT_EQ(details.info.reason(), "REQUEST_ID_REUSED");
  EXPECT_EQ(details.info.domain(), "ferrule");
  ASSERT_EQ(details.bad_request.field_violations_size(), 1);
  EXPECT_EQ(details.bad_request.field_violations(0).field(), "entry.entry_id");
  EXPECT_EQ(depot_.host().ledger().head().sequence, 1);
}

TEST_P(LedgerMethods, RefusalNamesReasonEvidenceAndRemedy) {
  UnitRepairedAfterInspection();
  v1::RecordResponse response;
  const grpc::Status status = Record(
      ferrule::testing::HandOver("hand-over", "K-1", "R-1", kStartUs + 6 * kHourUs), &response);
  EXPECT_EQ(status.error_code(), grpc::StatusCode::FAILED_PRECONDITION);
  const Details details = DetailsOf(status);
  bool found = false;
  for (const v1::Finding& finding : details.refusal.findings()) {
    if (finding.reason() != v1::REASON_REPAIRED_AFTER_INSPECTION) continue;
    found = true;
    EXPECT_EQ(finding.subject(), "units/K-1");
    EXPECT_THAT(finding.text(), HasSubstr("tech-ada"));
    EXPECT_FALSE(finding.remedy().empty());
    EXPECT_GT(finding.evidence_size(), 0);
  }
  EXPECT_TRUE(found) << status.error_message();
  EXPECT_EQ(details.refusal.finding_count(), details.refusal.findings_size());
  EXPECT_EQ(details.precondition.violations_size(), details.refusal.findings_size());
  EXPECT_EQ(details.info.metadata().at("finding_count"),
            absl::StrCat(details.refusal.finding_count()));
  EXPECT_THAT(status.error_message(), HasSubstr(details.refusal.findings(0).text()));
}

TEST_P(LedgerMethods, RefusalIsRememberedUnderItsId) {
  UnitRepairedAfterInspection();
  const v1::Entry entry =
      ferrule::testing::HandOver("hand-over", "K-1", "R-1", kStartUs + 6 * kHourUs);
  v1::RecordResponse response;
  EXPECT_FALSE(DetailsOf(Record(entry, &response)).refusal.repeated());
  EXPECT_TRUE(DetailsOf(Record(entry, &response)).refusal.repeated());
}

TEST_P(LedgerMethods, ObservedEntryGoesInAndItsReceiptCarriesTheQuestions) {
  UnitRepairedAfterInspection();
  const v1::Receipt receipt = MustRecord(ferrule::testing::HandOver(
      "hand-over", "K-1", "R-1", kStartUs + 6 * kHourUs, v1::ENTRY_MODE_OBSERVED));
  ASSERT_GT(receipt.questions_size(), 0);
  for (const v1::Finding& question : receipt.questions()) EXPECT_FALSE(question.text().empty());
}

TEST_P(LedgerMethods, ValidateOnlyKeepsNothing) {
  v1::RecordResponse response;
  ASSERT_TRUE(Record(ferrule::testing::SettingsEntry(), &response, true).ok());
  EXPECT_EQ(depot_.host().ledger().head().sequence, 0);
  EXPECT_FALSE(MustRecord(ferrule::testing::SettingsEntry()).repeated());
}

TEST_P(LedgerMethods, MalformedEntryListsItsFields) {
  v1::RecordResponse response;
  v1::Entry entry;
  entry.add_facts();
  const grpc::Status status = Record(entry, &response);
  EXPECT_EQ(status.error_code(), grpc::StatusCode::INVALID_ARGUMENT);
  const Details details = DetailsOf(status);
  EXPECT_EQ(details.info.reason(), "FIELD_INVALID");
  EXPECT_GE(details.bad_request.field_violations_size(), 3);  // id, actor, time, what
  grpc::ClientContext context;
  const grpc::Status none = stub_->Record(&context, v1::RecordRequest(), &response);
  EXPECT_EQ(DetailsOf(none).bad_request.field_violations(0).field(), "entry");
}

TEST_P(LedgerMethods, ManyLongViolationsAreCappedAndCountedOverEveryTransport) {
  v1::RecordResponse response;
  v1::Entry entry;
  entry.set_entry_id("many");
  entry.set_actor("tech-ada");
  for (int i = 0; i < 90; ++i) {
    v1::Fact* fact = entry.add_facts();
    fact->mutable_unit_moved()->set_unit(std::string(300, '!'));
    fact->mutable_unit_moved()->set_to_place(std::string(300, '\x01'));
  }
  const grpc::Status status = Record(entry, &response);
  EXPECT_EQ(status.error_code(), grpc::StatusCode::INVALID_ARGUMENT);
  EXPECT_LE(status.error_message().size(), kMaxErrorMessageBytes);
  const Details details = DetailsOf(status);
  EXPECT_LE(details.bytes, kMaxErrorDetailBytes);
  EXPECT_GE(details.bad_request.field_violations_size(), 1);
  EXPECT_THAT(status.error_message(), HasSubstr("more"));
  MustRecord(ferrule::testing::SettingsEntry());  // the next call is unhurt
}

TEST_P(LedgerMethods, BatchAnswersEachEntryInItsOrder) {
  v1::RecordBatchRequest request;
  *request.add_entries() = ferrule::testing::SettingsEntry();
  *request.add_entries() = v1::Entry();
  *request.add_entries() = ferrule::testing::ReceiveUnit("K-1", kStartUs);
  *request.add_entries() = ferrule::testing::HandOver("early", "K-1", "R-9", kStartUs + kHourUs);
  grpc::ClientContext context;
  v1::RecordBatchResponse response;
  const grpc::Status status = stub_->RecordBatch(&context, request, &response);
  ASSERT_TRUE(status.ok()) << status.error_message();
  ASSERT_EQ(response.results_size(), 4);
  EXPECT_EQ(response.results(0).receipt().sequence(), 1);
  EXPECT_EQ(response.results(1).failure().code(), grpc::StatusCode::INVALID_ARGUMENT);
  EXPECT_EQ(response.results(2).receipt().sequence(), 2);
  ASSERT_TRUE(response.results(3).has_failure());
  EXPECT_GT(response.results(3).failure().refusal().findings_size(), 0);
  EXPECT_FALSE(response.results(3).failure().refusal().findings(0).text().empty());
}

TEST_P(LedgerMethods, BatchHasOneToFiveHundredEntries) {
  for (const int count : {0, kMaxBatchEntries + 1}) {
    v1::RecordBatchRequest request;
    for (int i = 0; i < count; ++i) request.add_entries();
    grpc::ClientContext context;
    v1::RecordBatchResponse response;
    const grpc::Status status = stub_->RecordBatch(&context, request, &response);
    EXPECT_EQ(status.error_code(), grpc::StatusCode::INVALID_ARGUMENT);
    EXPECT_THAT(status.error_message(), HasSubstr("1 to 500"));
  }
}

TEST_P(LedgerMethods, EntriesComeByPageAndBySubject) {
  MustRecord(ferrule::testing::SettingsEntry());
  for (int i = 0; i < 9; ++i) {
    MustRecord(ferrule::testing::ReceiveUnit(absl::StrCat("K-", i), kStartUs + i));
  }
  int64_t after = 0;
  int64_t seen = 0;
  do {
    v1::ListEntriesRequest request;
    request.set_after_sequence(after);
    request.set_page_size(4);
    grpc::ClientContext context;
    v1::ListEntriesResponse response;
    ASSERT_TRUE(stub_->ListEntries(&context, request, &response).ok());
    EXPECT_EQ(response.head_sequence(), 10);
    for (const v1::LedgerEntry& entry : response.entries()) {
      EXPECT_EQ(entry.sequence(), ++seen);
    }
    after = response.next_after_sequence();
  } while (after != 0);
  EXPECT_EQ(seen, 10);

  v1::ListEntriesRequest one;
  one.set_subject("units/K-3");
  grpc::ClientContext context;
  v1::ListEntriesResponse response;
  ASSERT_TRUE(stub_->ListEntries(&context, one, &response).ok());
  ASSERT_EQ(response.entries_size(), 1);
  EXPECT_EQ(response.entries(0).sequence(), 5);
}

TEST_P(LedgerMethods, WrongListArgumentsAreNamed) {
  for (const auto& [after, size, subject] :
       {std::tuple(-1, 0, ""), std::tuple(0, -5, ""), std::tuple(0, 0, "unit K-1")}) {
    v1::ListEntriesRequest request;
    request.set_after_sequence(after);
    request.set_page_size(size);
    request.set_subject(subject);
    grpc::ClientContext context;
    v1::ListEntriesResponse response;
    const grpc::Status status = stub_->ListEntries(&context, request, &response);
    EXPECT_EQ(status.error_code(), grpc::StatusCode::INVALID_ARGUMENT);
    EXPECT_EQ(DetailsOf(status).bad_request.field_violations_size(), 1);
  }
}

TEST_P(LedgerMethods, ServerInfoGivesHeadAndEngine) {
  const v1::Receipt receipt = MustRecord(ferrule::testing::SettingsEntry());
  grpc::ClientContext context;
  v1::GetServerInfoResponse info;
  ASSERT_TRUE(stub_->GetServerInfo(&context, {}, &info).ok());
  EXPECT_EQ(info.head_sequence(), 1);
  EXPECT_EQ(info.head_digest(), receipt.digest());
  EXPECT_THAT(info.engine(), HasSubstr("sqlite 3."));
  EXPECT_GT(info.schema_version(), 0);
  EXPECT_EQ(time::ToMicros(info.now_time()), depot_.clock().NowMicros());
}

}  // namespace
}  // namespace ferrule::service
