// Tests core/board/name_index.cc, core/board/scan.cc.
#include "service/label_methods.h"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <memory>
#include <string>

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

}  // namespace
}  // namespace ferrule::testing
