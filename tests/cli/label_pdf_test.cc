// The PDF of labels: its parts are where its table says, and its texts are whole.
#include "cli/label_pdf.h"

#include <algorithm>
#include <cstdio>
#include <string>
#include <vector>

#include "absl/strings/str_cat.h"
#include "gmock/gmock.h"
#include "gtest/gtest.h"

namespace ferrule::cli {
namespace {

using ::testing::HasSubstr;
using ::testing::Not;

LabelText Label(LabelKind kind, const std::string& tag) {
  LabelText label;
  label.kind = kind;
  label.heading = "SOILED";
  label.title = tag;
  label.lines = {{"model", "knee-a"}, {"seal", ""}, {"place", "shelf (left) \\ caf\xC3\xA9"}};
  label.to_fill_in = {"cleaned by, at", "lot", "signed"};
  label.footing = "Not for use.";
  label.code = label::CodeOfTag(tag, {true, "4012345"});
  return label;
}

std::string MustPdf(const std::vector<LabelText>& labels) {
  const auto pdf = SheetPdf(labels);
  EXPECT_TRUE(pdf.ok()) << pdf.status();
  return pdf.value_or("");
}

TEST(LabelPdf, EveryObjectIsWhereTheTableSays) {
  const std::string pdf = MustPdf({Label(LabelKind::kUnit, "K-1")});
  ASSERT_EQ(pdf.substr(0, 8), "%PDF-1.4");
  size_t table = 0;
  ASSERT_EQ(std::sscanf(pdf.c_str() + pdf.rfind("startxref\n") + 10, "%zu", &table), 1);
  ASSERT_EQ(pdf.substr(table, 5), "xref\n");
  int count = 0;
  std::sscanf(pdf.c_str() + table, "xref\n0 %d", &count);
  ASSERT_GT(count, 5);
  const size_t first = pdf.find("0000000000 65535 f \n", table);
  ASSERT_NE(first, std::string::npos);
  for (int i = 1; i < count; ++i) {
    size_t offset = 0;
    std::sscanf(pdf.c_str() + first + 20 * static_cast<size_t>(i), "%zu", &offset);
    EXPECT_EQ(pdf.substr(offset, absl::StrCat(i).size() + 7), absl::StrCat(i, " 0 obj\n"));
  }
  // The stream's length.
  size_t length = 0;
  const size_t at = pdf.find("/Length ");
  std::sscanf(pdf.c_str() + at, "/Length %zu", &length);
  const size_t begin = pdf.find("stream\n", at) + 7;
  EXPECT_EQ(pdf.substr(begin + length, 10), "\nendstream");
}

TEST(LabelPdf, TextIsWrittenWholeAndCannotBreakOut) {
  const std::string pdf = MustPdf({Label(LabelKind::kQuarantine, "K-1")});
  EXPECT_THAT(pdf, HasSubstr("(place: shelf \\(left\\) \\\\ caf\xE9) Tj"));
  EXPECT_THAT(pdf, HasSubstr("(Not for use.) Tj"));
  EXPECT_THAT(pdf, HasSubstr("(cleaned by, at) Tj"));
  EXPECT_THAT(pdf, Not(HasSubstr("seal:")));  // empty lines are left out
}

TEST(LabelPdf, LettersThatTheFontsLackAreRefusedInWords) {
  LabelText label = Label(LabelKind::kUnit, "K-1");
  label.lines = {{"place", "\xE6\xA3\x9A"}};
  const auto pdf = SheetPdf({label});
  EXPECT_THAT(std::string(pdf.status().message()), HasSubstr("--out FILE.html"));
}

TEST(LabelPdf, LinesGrowSmallerUntilTheyFitAndNeverRunIntoEachOther) {
  LabelText label = Label(LabelKind::kSoiled, "K-1");
  for (int i = 0; i < 5; ++i)
    label.lines.emplace_back("held", "for a recall, by lead-eve, why not");
  const std::string pdf = MustPdf({label});
  EXPECT_THAT(pdf, Not(HasSubstr("/C 8.0 Tf")));
  double lowest = 1e9;
  for (size_t at = 0; (at = pdf.find("Tf ", at)) != std::string::npos; ++at) {
    double y = 0;
    std::sscanf(pdf.c_str() + at, "Tf %*f %lf Td (held", &y);
    if (pdf.find("(held", at) < pdf.find("ET", at)) lowest = std::min(lowest, y);
  }
  double blanks = 0;
  const size_t blank = pdf.rfind("Tf ", pdf.find("(cleaned by, at)"));
  std::sscanf(pdf.c_str() + blank, "Tf %*f %lf", &blanks);
  EXPECT_GT(lowest, blanks + 5);
  for (int i = 0; i < 40; ++i) label.lines.emplace_back("held", "again");
  EXPECT_THAT(std::string(SheetPdf({label}).status().message()), HasSubstr("do not fit"));
}

TEST(LabelPdf, WhatDoesNotFitGoesOnTheNextPage) {
  std::vector<LabelText> labels;
  for (int i = 0; i < 9; ++i) labels.push_back(Label(LabelKind::kUnit, absl::StrCat("K-", i)));
  EXPECT_THAT(MustPdf(labels), HasSubstr("/Count 2 "));  // eight to a page
  labels.pop_back();
  EXPECT_THAT(MustPdf(labels), HasSubstr("/Count 1 "));
  EXPECT_THAT(MustPdf({}), HasSubstr("/Count 1 "));
}

}  // namespace
}  // namespace ferrule::cli
