#include "core/ledger/anchor.h"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include "absl/strings/str_cat.h"

namespace ferrule::ledger {
namespace {

const std::string kA(64, 'a');
const std::string kB = std::string(63, '0') + "F";

std::vector<std::string> Texts(std::string_view text) {
  const auto anchors = AnchorsIn(text);
  std::vector<std::string> out;
  if (!anchors.ok()) return {std::string(anchors.status().message())};
  for (const Anchor& anchor : *anchors) out.push_back(AnchorText(anchor.sequence, anchor.digest));
  return out;
}

TEST(Anchor, WhatIsPrintedIsReadBack) {
  EXPECT_THAT(Texts(AnchorText(7, std::string(32, '\xAA'))), ::testing::ElementsAre("7:" + kA));
}

TEST(Anchor, IsFoundInLogLinesAndManifestsAndOnceOnly) {
  EXPECT_THAT(Texts(absl::StrCat("ferruled: head: anchor=9:", kA,
                                 "\n{\"event\":\"head\",\"anchor\":\"3:", kB, "\"}\n9:", kA,
                                 " 2026-03-02T08:00:00Z\n")),
              ::testing::ElementsAre("3:" + std::string(63, '0') + "f", "9:" + kA));
  EXPECT_THAT(Texts(absl::StrCat("{\n  \"bytes\": 12,\n  \"head_digest\": \"", kA,
                                 "\",\n  \"head_sequence\": 12,\n  \"sha256\": \"", kB, "\"\n}\n")),
              ::testing::ElementsAre("12:" + kA));
}

TEST(Anchor, WhatIsNoneIsSaid) {
  for (const std::string& text :
       {std::string(), std::string("12:abc"), "0:" + kA, "-1:" + kA, "x:" + kA, "1:" + kA + "0",
        "99999999999999999999:" + kA, "1:" + std::string(63, 'a') + "g", std::string("08:30:00")}) {
    EXPECT_EQ(AnchorsIn(text).status().code(), absl::StatusCode::kInvalidArgument) << text;
  }
}

TEST(Anchor, TwoDigestsOfOnePositionAreAForgery) {
  const auto anchors = AnchorsIn(absl::StrCat("4:", kA, " 4:", kB));
  EXPECT_THAT(std::string(anchors.status().message()), ::testing::HasSubstr("position 4"));
}

}  // namespace
}  // namespace ferrule::ledger
