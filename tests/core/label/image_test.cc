// Codes drawn by libzint and read from the picture by libzxing: what our parser makes of the text
// is what was put in. Tests core/label/scan.cc.
#include <zint.h>

#define ZX_USE_UTF8
#include <ZXing/ReadBarcode.h>

#include <memory>
#include <string>

#include "absl/strings/str_cat.h"
#include "core/label/compose.h"
#include "core/label/scan.h"
#include "core/label/tag.h"
#include "gmock/gmock.h"
#include "gtest/gtest.h"

namespace ferrule::label {
namespace {

using Symbol = std::unique_ptr<zint_symbol, decltype(&ZBarcode_Delete)>;

// Draws a code; null with the library's words when it does not want to.
Symbol Draw(int symbology, int mode, const std::string& data) {
  Symbol symbol(ZBarcode_Create(), &ZBarcode_Delete);
  symbol->symbology = symbology;
  symbol->input_mode = mode;
  symbol->warn_level = WARN_FAIL_ALL;
  symbol->scale = 2;
  symbol->show_hrt = 0;
  symbol->whitespace_width = 10;
  symbol->whitespace_height = 4;
  const int code =
      ZBarcode_Encode_and_Buffer(symbol.get(), reinterpret_cast<const unsigned char*>(data.data()),
                                 static_cast<int>(data.size()), 0);
  if (code != 0) {
    ADD_FAILURE() << data << ": " << symbol->errtxt;
    symbol.reset();
  }
  return symbol;
}

// The text in the picture behind its symbology identifier, as a scanner would send it.
std::string ReadBack(const zint_symbol& symbol) {
  const ZXing::ImageView view(symbol.bitmap, symbol.bitmap_width, symbol.bitmap_height,
                              ZXing::ImageFormat::RGB);
  const ZXing::Result result = ZXing::ReadBarcode(view);
  EXPECT_TRUE(result.isValid());
  const ZXing::ByteArray& bytes = result.bytes();
  return result.symbologyIdentifier() + std::string(bytes.begin(), bytes.end());
}

std::string Shown(const Scan& scan) {
  std::string text;
  for (const Element& e : scan.elements) absl::StrAppend(&text, "(", e.code, ")", e.value);
  return text;
}

struct Code {
  const char* name;
  int symbology;
  const char* identifier;
};
class Image : public ::testing::TestWithParam<Code> {};

TEST_P(Image, OfElementsReadsBackAsTheSameElements) {
  const Values lists[] = {
      {{"01", "51022222233336"},
       {"11", "141231"},
       {"17", "150707"},
       {"10", "A213B1"},
       {"21", "1234"}},
      {{"8004", "4012345K-0417"}},
      {{"10", "A(B)%/c"}, {"01", "12345678901231"}},
      {{"8003", "04012345000016BOX7"}, {"99", "X"}},
  };
  for (const Values& values : lists) {
    std::string data;
    for (const auto& [code, value] : values) absl::StrAppend(&data, "[", code, "]", value);
    const Symbol symbol = Draw(GetParam().symbology, GS1_MODE, data);
    ASSERT_NE(symbol, nullptr);
    const std::string text = ReadBack(*symbol);
    EXPECT_EQ(text, GetParam().identifier + *ComposeElements(values));
    const auto scan = ParseScan(text, 2026);
    ASSERT_TRUE(scan.ok()) << scan.status();
    EXPECT_EQ(scan->form, Form::kGs1Elements);
    std::string wanted;
    for (const auto& [code, value] : values) absl::StrAppend(&wanted, "(", code, ")", value);
    EXPECT_EQ(Shown(*scan), wanted);
  }
}
INSTANTIATE_TEST_SUITE_P(Codes, Image,
                         ::testing::Values(Code{"DataMatrix", BARCODE_DATAMATRIX, "]d2"},
                                           Code{"Gs1128", BARCODE_GS1_128, "]C1"},
                                           Code{"Qr", BARCODE_QRCODE, "]Q3"}),
                         [](const auto& one) { return one.param.name; });

TEST(ImageOf, AnOwnTagReadsBackAsTheTag) {
  const TagRules rules{true, "4012345"};
  const TagRules plain{true, ""};
  const LabelCode asset = CodeOfTag("K-0417", rules);
  const Symbol gs1 = Draw(BARCODE_DATAMATRIX, GS1_MODE, "[8004]" + asset.payload.substr(4));
  ASSERT_NE(gs1, nullptr);
  const auto scanned = ParseScan(ReadBack(*gs1), 2026);
  ASSERT_TRUE(scanned.ok()) << scanned.status();
  EXPECT_EQ(TagOfAsset(scanned->asset, rules), "K-0417");
  for (int symbology : {BARCODE_DATAMATRIX, BARCODE_CODE128, BARCODE_QRCODE}) {
    const Symbol symbol = Draw(symbology, DATA_MODE, CodeOfTag("K-0417", plain).payload);
    ASSERT_NE(symbol, nullptr);
    const auto scan = ParseScan(ReadBack(*symbol), 2026);
    ASSERT_TRUE(scan.ok()) << scan.status();
    EXPECT_EQ(scan->form, Form::kPlain);
    EXPECT_EQ(*TagFromLabel(scan->text, plain), "K-0417");
  }
}

// libzint puts "+" and check character itself. HIBC sections of scanner manuals: "G".
TEST(ImageOf, AHibcLabelReadsBackWithItsCheckCharacter) {
  for (int symbology : {BARCODE_HIBC_DM, BARCODE_HIBC_128, BARCODE_HIBC_QR}) {
    const Symbol symbol = Draw(symbology, DATA_MODE, "A123BJC5D6E71");
    ASSERT_NE(symbol, nullptr);
    const auto scan = ParseScan(ReadBack(*symbol), 2026);
    ASSERT_TRUE(scan.ok()) << scan.status();
    EXPECT_EQ(scan->text, "+A123BJC5D6E71G");
    EXPECT_EQ(scan->device_identifier, "A123BJC5D6E71");
  }
}

// The program of that library ends with 0 for a wrong check digit; the library itself does not.
TEST(ImageOf, AWrongCheckDigitIsNotDrawn) {
  Symbol symbol(ZBarcode_Create(), &ZBarcode_Delete);
  symbol->symbology = BARCODE_DATAMATRIX;
  symbol->input_mode = GS1_MODE;
  symbol->warn_level = WARN_FAIL_ALL;
  const std::string data = "[01]51022222233337";
  EXPECT_EQ(ZBarcode_Encode(symbol.get(), reinterpret_cast<const unsigned char*>(data.data()),
                            static_cast<int>(data.size())),
            ZINT_ERROR_NONCOMPLIANT);
}

}  // namespace
}  // namespace ferrule::label
