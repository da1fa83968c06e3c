#include "service/status.h"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <string>

#include "absl/strings/cord.h"
#include "absl/strings/str_cat.h"
#include "core/ledger/prepared.h"
#include "core/store/connection.h"
#include "service/errors.h"
#include "service/limits.h"
#include "tests/service/served_depot.h"

namespace ferrule::service {
namespace {

using ferrule::testing::Details;
using ferrule::testing::DetailsOf;
using ::testing::HasSubstr;

void InTestWords(v1::Finding* finding) {
  finding->set_text(absl::StrCat("text of ", v1::Reason_Name(finding->reason())));
  finding->set_remedy("do this");
}

absl::Status RefusedWith(int findings, size_t text_bytes) {
  v1::Refusal refusal;
  for (int i = 0; i < findings; ++i) {
    v1::Finding* finding = refusal.add_findings();
    finding->set_reason(v1::REASON_ON_HOLD);
    finding->set_subject(absl::StrCat("units/K-", i));
    finding->set_text(std::string(text_bytes, 'x'));
    finding->set_remedy("lift it");
  }
  refusal.set_finding_count(findings);
  return ledger::RefusedStatus(refusal);
}

TEST(ToGrpc, OkStaysOk) { EXPECT_TRUE(ToGrpc(absl::OkStatus(), InTestWords).ok()); }

TEST(ToGrpc, EveryCodeKeepsItsNumberAndHasAReason) {
  for (int code = 1; code <= 16; ++code) {
    const absl::Status status(static_cast<absl::StatusCode>(code), "what happened; what to do");
    const grpc::Status out = ToGrpc(status, InTestWords);
    EXPECT_EQ(static_cast<int>(out.error_code()), code);
    EXPECT_EQ(out.error_message(), "what happened; what to do");
    EXPECT_FALSE(DetailsOf(out).info.reason().empty()) << code;
    EXPECT_EQ(DetailsOf(out).info.domain(), "ferrule");
  }
}

TEST(ToGrpc, MemoryThatRanOutHasAnotherReasonThanAFullDisk) {
  const absl::Status full = absl::ResourceExhaustedError("the disk is full; make room");
  EXPECT_EQ(DetailsOf(ToGrpc(full, InTestWords)).info.reason(), "STORAGE_FULL");
  EXPECT_EQ(DetailsOf(ToGrpc(store::OutOfMemory(full), InTestWords)).info.reason(), "NO_MEMORY");
}

TEST(ToGrpc, OnlyWhatMayBeSentAgainSaysWhen) {
  for (int code = 1; code <= 16; ++code) {
    const auto absl_code = static_cast<absl::StatusCode>(code);
    const bool again =
        absl_code == absl::StatusCode::kUnavailable || absl_code == absl::StatusCode::kAborted;
    EXPECT_EQ(DetailsOf(ToGrpc(absl::Status(absl_code, "m"), InTestWords)).has_retry, again)
        << code;
  }
}

TEST(ToGrpc, FindingWithoutWordsGetsThem) {
  v1::Refusal refusal;
  refusal.add_findings()->set_reason(v1::REASON_UNIT_UNKNOWN);
  const grpc::Status out = ToGrpc(ledger::RefusedStatus(refusal), InTestWords);
  EXPECT_EQ(out.error_message(), "text of REASON_UNIT_UNKNOWN (do this)");
  EXPECT_EQ(DetailsOf(out).info.reason(), "UNIT_UNKNOWN");
}

TEST(ToGrpc, FindingsThatDoNotFitAreCounted) {
  for (const int findings : {1, 3, 10, 20}) {
    for (const size_t text : {10u, 200u, 900u, 3000u, 20'000u}) {
      const grpc::Status out = ToGrpc(RefusedWith(findings, text), InTestWords);
      const Details details = DetailsOf(out);
      EXPECT_LE(details.bytes, kMaxErrorDetailBytes) << findings << " of " << text;
      EXPECT_LE(out.error_message().size(), kMaxErrorMessageBytes) << findings << " of " << text;
      EXPECT_EQ(details.refusal.finding_count(), findings);
      EXPECT_GE(details.refusal.findings_size(), 1) << findings << " of " << text;
    }
  }
  EXPECT_THAT(ToGrpc(RefusedWith(20, 200), InTestWords).error_message(), HasSubstr("more"));
}

TEST(ToGrpc, MessageIsCappedAsItTravelsAndBetweenCharacters) {
  std::string text;
  while (text.size() < 3000) text += "\xC3\xA4";  // two bytes each, six when they travel
  const grpc::Status out = ToGrpc(absl::InternalError(text), InTestWords);
  size_t travels = 0;
  for (const char c : out.error_message()) travels += (c >= 0x20 && c < 0x7F && c != '%') ? 1 : 3;
  EXPECT_LE(travels, kMaxErrorMessageBytes);
  EXPECT_THAT(out.error_message(), HasSubstr("bytes more"));
  const size_t cut = out.error_message().find(';');
  ASSERT_NE(cut, std::string::npos);
  EXPECT_EQ(cut % 2, 0u);  // no half character
}

TEST(ToGrpc, OwnErrorsCarryTheirReasonAndValues) {
  const grpc::Status out = ToGrpc(errors::SequenceBeyondHead(9, 4), InTestWords);
  EXPECT_EQ(out.error_code(), grpc::StatusCode::OUT_OF_RANGE);
  EXPECT_EQ(DetailsOf(out).info.metadata().at("after_sequence"), "9");
  EXPECT_EQ(DetailsOf(out).info.metadata().at("head_sequence"), "4");
}

TEST(ToFailure, KeepsCodeMessageAndFindingsWithinTheCap) {
  const v1::Failure failure = ToFailure(RefusedWith(20, 900), InTestWords);
  EXPECT_EQ(failure.code(), static_cast<int>(absl::StatusCode::kFailedPrecondition));
  EXPECT_LE(failure.ByteSizeLong(), kMaxErrorDetailBytes);
  EXPECT_EQ(failure.refusal().finding_count(), 20);
  EXPECT_GE(failure.refusal().findings_size(), 1);
}

}  // namespace
}  // namespace ferrule::service
