// Codes as they are printed: the SVG's path painted into a picture and read by libzxing.
#include "cli/label_code.h"

#define ZX_USE_UTF8
#include <ZXing/ReadBarcode.h>

#include <cstdio>
#include <string>
#include <vector>

#include "cli/label_sheet.h"
#include "core/label/scan.h"
#include "gmock/gmock.h"
#include "gtest/gtest.h"

namespace ferrule::cli {
namespace {

using ::testing::HasSubstr;
using ::testing::Not;

constexpr int kScale = 4;

// What a scanner reads off the SVG, symbology identifier first; empty when nothing.
std::string ReadSvg(const std::string& svg) {
  int width = 0;
  int height = 0;
  std::sscanf(svg.c_str() + svg.find("viewBox=\"0 0 ") + 13, "%d %d", &width, &height);
  std::vector<uint8_t> picture(static_cast<size_t>(width * height * kScale * kScale), 255);
  for (size_t at = svg.find(" d=\""); (at = svg.find('M', at)) != std::string::npos; ++at) {
    int x = 0;
    int y = 0;
    int run = 0;
    if (std::sscanf(svg.c_str() + at, "M%d %dh%d", &x, &y, &run) != 3) continue;
    for (int row = y * kScale; row < (y + 1) * kScale; ++row) {
      for (int column = x * kScale; column < (x + run) * kScale; ++column) {
        picture[static_cast<size_t>(row * width * kScale + column)] = 0;
      }
    }
  }
  const ZXing::ImageView view(picture.data(), width * kScale, height * kScale,
                              ZXing::ImageFormat::Lum);
  const ZXing::Result result = ZXing::ReadBarcode(view);
  if (!result.isValid()) return "";
  return result.symbologyIdentifier() + std::string(result.bytes().begin(), result.bytes().end());
}

TEST(LabelCode, OfATagIsReadBack) {
  const label::TagRules gs1{true, "4012345"};
  const label::TagRules plain{true, ""};
  const auto asset = DrawDataMatrix(label::CodeOfTag("K-0417", gs1));
  ASSERT_TRUE(asset.ok()) << asset.status();
  const auto scan = label::ParseScan(ReadSvg(CodeSvg(*asset, 24)), 2026);
  ASSERT_TRUE(scan.ok()) << scan.status();
  EXPECT_EQ(scan->form, label::Form::kGs1Elements);
  EXPECT_EQ(label::TagOfAsset(scan->asset, gs1), "K-0417");

  const auto tag = DrawDataMatrix(label::CodeOfTag("K-0417", plain));
  ASSERT_TRUE(tag.ok()) << tag.status();
  const auto text = label::ParseScan(ReadSvg(CodeSvg(*tag, 24)), 2026);
  ASSERT_TRUE(text.ok()) << text.status();
  EXPECT_EQ(*label::TagFromLabel(text->text, plain), "K-0417");
}

TEST(LabelCode, OfACardIsReadBack) {
  for (const char* payload : {"/clean", "/product wipe-q", "north-shelf", "/by tech-ada"}) {
    const auto card = DrawDataMatrix({false, payload, payload});
    ASSERT_TRUE(card.ok()) << card.status();
    EXPECT_EQ(ReadSvg(CodeSvg(*card, 24)), std::string("]d1") + payload);
  }
}

TEST(LabelCode, ThatCannotBeDrawnSaysWhy) {
  const auto picture = DrawDataMatrix({false, std::string(4'000, 'x'), "too long"});
  EXPECT_THAT(std::string(picture.status().message()), HasSubstr("no code can be drawn"));
}

TEST(LabelSheet, TextsCannotBreakOutOfThePage) {
  LabelText label;
  label.title = "<script>K-1";
  label.lines = {{"held", "\"a\" & <b>"}, {"seal", ""}};
  label.code = {false, "K-1", "K-1"};
  const auto html = SheetHtml({label});
  ASSERT_TRUE(html.ok()) << html.status();
  EXPECT_THAT(*html, HasSubstr("&lt;script&gt;K-1"));
  EXPECT_THAT(*html, HasSubstr("&quot;a&quot; &amp; &lt;b&gt;"));
  EXPECT_THAT(*html, Not(HasSubstr("seal</dt>")));  // empty lines are left out
  EXPECT_THAT(*html, Not(HasSubstr("src=")));       // nothing is fetched from elsewhere
}

}  // namespace
}  // namespace ferrule::cli
