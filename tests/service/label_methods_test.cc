// Tests core/board/name_index.cc, core/board/scan.cc.
#include "service/label_methods.h"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <memory>
#include <string>

#include "absl/strings/str_cat.h"
#include "ferrule/v1/label_service.grpc.pb.h"
#include "tests/service/story.h"

namespace ferrule::testing {
namespace {

using ::testing::IsEmpty;
using ::testing::Not;

class LabelMethods : public ::testing::Test {
 protected:
  LabelMethods() : labels_(v1::LabelService::NewStub(story_.depot().Channel(Transport::kTcp))) {
    story_.ReadyKnee("K-1");
    story_.Tell("2026-05-02 08:00",
                "alias_noted { unit: 'K-1' alias: 'OLD-7' kind: ALIAS_KIND_OLD_TAG }");
  }

  v1::ResolveScanResponse Scan(const std::string& text) {
    grpc::ClientContext context;
    v1::ResolveScanRequest request;
    request.set_text(text);
    v1::ResolveScanResponse response;
    const grpc::Status status = labels_->ResolveScan(&context, request, &response);
    EXPECT_TRUE(status.ok()) << status.error_message();
    return response;
  }

  Story story_;
  std::unique_ptr<v1::LabelService::Stub> labels_;
};

TEST_F(LabelMethods, ATagAndAnOldTagFindTheUnit) {
  for (const char* text : {"K-1", "OLD-7"}) {
    const v1::ResolveScanResponse scan = Scan(text);
    EXPECT_EQ(scan.outcome(), v1::SCAN_OUTCOME_FOUND) << text;
    ASSERT_EQ(scan.matches_size(), 1) << text;
    EXPECT_THAT(scan.answer(), Not(IsEmpty()));
  }
}

TEST_F(LabelMethods, WhatNobodyKnowsIsAnAnswerAndNoError) {
  const v1::ResolveScanResponse scan = Scan("K-404");
  EXPECT_EQ(scan.outcome(), v1::SCAN_OUTCOME_UNKNOWN);
  EXPECT_THAT(scan.answer(), Not(IsEmpty()));
}

// GTIN-13 4006381333931 has a right check digit, 4006381333930 has not (GS1 General
// Specifications, check digit calculation; the number itself is a widely printed example).
TEST_F(LabelMethods, AWrongCheckDigitIsSaid) {
  EXPECT_NE(Scan("4006381333931").outcome(), v1::SCAN_OUTCOME_UNREADABLE);
  const v1::ResolveScanResponse wrong = Scan("]d2010400638133393010A1");
  EXPECT_EQ(wrong.outcome(), v1::SCAN_OUTCOME_UNREADABLE);
  EXPECT_THAT(wrong.answer(), ::testing::HasSubstr("check digit"));
}

// UDI of the GS1 table of "UDI formats by FDA-accredited issuing agency", version 1.3, as the
// maker's label has it and as a scanner sends it; recorded after the first question was answered.
TEST_F(LabelMethods, AMakersLabelFindsTheUnitByItsUdi) {
  EXPECT_EQ(Scan("]d20151022222233336211234").outcome(), v1::SCAN_OUTCOME_UNKNOWN);
  story_.Tell("2026-05-02 09:00",
              "unit_received { unit: 'K-2' model: 'knee-a' place: 'dock' serial: '77' "
              "udi: '(01)51022222233336(11)141231(21)1234' }");
  for (const char* text : {"]d20151022222233336211234", "(01)51022222233336(21)1234"}) {
    const v1::ResolveScanResponse scan = Scan(text);
    ASSERT_EQ(scan.outcome(), v1::SCAN_OUTCOME_FOUND) << scan.answer();
    EXPECT_EQ(scan.matches(0).id(), "K-2");
    EXPECT_EQ(scan.matches(0).by(), v1::SCAN_MATCH_BY_UDI);
  }
}

// Exception 77: the own tag is the key; two units of one serial number are asked about.
TEST_F(LabelMethods, OneSerialOnTwoUnitsIsAmbiguousAndATagBeatsIt) {
  for (const char* unit : {"K-2", "K-3"}) {
    story_.Tell("2026-05-02 09:00", absl::StrCat("unit_received { unit: '", unit,
                                                 "' model: 'knee-a' place: 'dock' serial: '77' }"));
  }
  const v1::ResolveScanResponse both = Scan("77");
  EXPECT_EQ(both.outcome(), v1::SCAN_OUTCOME_AMBIGUOUS);
  EXPECT_EQ(both.matches_size(), 2);
  EXPECT_THAT(both.answer(), ::testing::HasSubstr("scan or type the depot's own tag"));
  story_.Tell("2026-05-02 10:00",
              "unit_received { unit: '77' model: 'knee-a' place: 'dock' serial: '5' }");
  const v1::ResolveScanResponse tag = Scan("77");
  EXPECT_EQ(tag.outcome(), v1::SCAN_OUTCOME_FOUND);
  EXPECT_EQ(tag.matches(0).by(), v1::SCAN_MATCH_BY_TAG);
  EXPECT_EQ(tag.remarks_size(), 2);
}

// Exception 68: after a board swap both numbers find the unit, and a reversed one no longer does.
TEST_F(LabelMethods, ABoardNumberFindsTheUnitUntilItIsReversed) {
  const v1::Receipt noted =
      story_.Tell("2026-05-03 08:00",
                  "alias_noted { unit: 'K-1' alias: 'BRD-9' kind: ALIAS_KIND_BOARD_NUMBER }");
  ASSERT_EQ(Scan("BRD-9").outcome(), v1::SCAN_OUTCOME_FOUND);
  EXPECT_EQ(Scan("BRD-9").matches(0).by(), v1::SCAN_MATCH_BY_ALIAS);
  story_.Tell("2026-05-03 09:00",
              absl::StrCat("reversal { fact { entry_id: '", noted.entry_id(),
                           "' index: 0 } subjects: 'units/K-1' because: 'misread' }"));
  EXPECT_EQ(Scan("BRD-9").outcome(), v1::SCAN_OUTCOME_UNKNOWN);
}

}  // namespace
}  // namespace ferrule::testing
