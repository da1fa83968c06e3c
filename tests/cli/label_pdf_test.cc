// The PDF of labels: its parts are where its table says, and libzxing reads its codes back off the
// squares that it fills.
#include "cli/label_pdf.h"

#define ZX_USE_UTF8
#include <ZXing/ReadBarcode.h>

#include <algorithm>
#include <cstdio>
#include <sstream>
#include <string>
#include <vector>

#include "absl/strings/str_cat.h"
#include "core/label/scan.h"
#include "gmock/gmock.h"
#include "gtest/gtest.h"

namespace ferrule::cli {
namespace {

using ::testing::HasSubstr;
using ::testing::Not;

constexpr double kScale = 4;  // dots to a point

struct Square {
  double x, y, width, height;  // points, from the lower left corner
};

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

// What a scanner reads that is held to these squares.
std::string ReadSquares(const std::vector<Square>& squares) {
  double left = 1e9;
  double right = 0;
  double low = 1e9;
  double high = 0;
  for (const Square& s : squares) {
    left = std::min(left, s.x - 10);
    right = std::max(right, s.x + s.width + 10);
    low = std::min(low, s.y - 10);
    high = std::max(high, s.y + s.height + 10);
  }
  if (squares.empty()) return "";
  const auto dots = [](double points) { return static_cast<int>(points * kScale + .5); };
  const int width = dots(right - left);
  const int height = dots(high - low);
  std::vector<uint8_t> picture(static_cast<size_t>(width * height), 255);
  for (const Square& s : squares) {
    for (int row = dots(high - s.y - s.height); row < dots(high - s.y); ++row) {
      for (int column = dots(s.x - left); column < dots(s.x + s.width - left); ++column) {
        picture[static_cast<size_t>(row * width + column)] = 0;
      }
    }
  }
  const ZXing::Result result =
      ZXing::ReadBarcode(ZXing::ImageView(picture.data(), width, height, ZXing::ImageFormat::Lum));
  return result.symbologyIdentifier() + std::string(result.bytes().begin(), result.bytes().end());
}

// The codes on a sheet, label by label, off the black squares that are filled.
std::vector<std::string> CodesOf(const std::string& pdf) {
  std::vector<std::vector<Square>> labels;
  std::istringstream lines(pdf);
  for (std::string line; std::getline(lines, line);) {
    if (line.find("re f") != std::string::npos) {  // the ground of a heading: the next label
      labels.emplace_back();
      continue;
    }
    Square s{};
    char end[8] = "";
    const int read =
        std::sscanf(line.c_str(), "%lf %lf %lf %lf %7s", &s.x, &s.y, &s.width, &s.height, end);
    if (read == 5 && std::string(end) == "re" && !labels.empty()) labels.back().push_back(s);
  }
  std::vector<std::string> codes;
  for (const auto& squares : labels) codes.push_back(ReadSquares(squares));
  return codes;
}

TEST(LabelPdf, CodesAreReadBack) {
  const std::string pdf =
      MustPdf({Label(LabelKind::kSoiled, "K-0417"), Label(LabelKind::kClean, "SB-1-LONG-TAG-99")});
  const std::vector<std::string> codes = CodesOf(pdf);
  ASSERT_EQ(codes.size(), 2U);
  for (size_t i = 0; i < 2; ++i) {
    const auto scan = label::ParseScan(codes[i], 2026);
    ASSERT_TRUE(scan.ok()) << codes[i];
    EXPECT_EQ(label::TagOfAsset(scan->asset, {true, "4012345"}),
              i == 0 ? "K-0417" : "SB-1-LONG-TAG-99");
  }
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
