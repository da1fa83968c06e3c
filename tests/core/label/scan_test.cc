#include "core/label/scan.h"

#include "gmock/gmock.h"
#include "gtest/gtest.h"

namespace ferrule::label {
namespace {

using ::testing::Contains;
using ::testing::HasSubstr;
using ::testing::IsEmpty;

constexpr int kYear = 2026;

Scan Read(const std::string& text) {
  const auto scan = ParseScan(text, kYear);
  EXPECT_TRUE(scan.ok()) << text << ": " << scan.status();
  return scan.value_or(Scan{});
}

std::string Refusal(const std::string& text) {
  const auto scan = ParseScan(text, kYear);
  EXPECT_FALSE(scan.ok()) << text;
  return std::string(scan.status().message());
}

// Symbology identifiers of GS1 data: gs1-syntax-engine, src/c-lib/scandata.c, which has ]d2 with
// 01, U+001D and 99TESTING.
TEST(Scan, SymbologyIdentifiersSayThatElementsFollow) {
  for (const char* symbology : {"]C1", "]d2", "]Q3", "]e0"}) {
    const Scan scan = Read(std::string(symbology) +
                           "0112345678901231\x1d"
                           "99TESTING\r\n");
    EXPECT_EQ(scan.form, Form::kGs1Elements);
    EXPECT_EQ(scan.symbology, symbology);
    EXPECT_EQ(scan.device_identifier, "12345678901231");
    ASSERT_EQ(scan.elements.size(), 2u);
    EXPECT_EQ(scan.elements[1].value, "TESTING");
    EXPECT_FALSE(scan.guessed);
  }
  EXPECT_EQ(Read("]E06291041500213").device_identifier, "06291041500213");
  EXPECT_EQ(Read("]C0K-0417").form, Form::kPlain);
  EXPECT_EQ(Read("]C0K-0417").text, "K-0417");
}

TEST(Scan, BracketsAndSeparatorsAreTwoForms) {
  EXPECT_EQ(Read("(10)AB(21)C").serial, "C");
  const Scan scan = Read("]d210AB(21)C");  // here the brackets are data
  EXPECT_EQ(scan.lot, "AB(21)C");
  EXPECT_EQ(scan.serial, "");
}

TEST(Scan, WithoutSymbologyIdentifierIsGuessedOnlyWhenAllOfItIsRight) {
  const Scan scan = Read("01510222222333361114123117150707");
  EXPECT_EQ(scan.form, Form::kGs1Elements);
  EXPECT_TRUE(scan.guessed);
  EXPECT_EQ(Read("0151022222233335").form, Form::kPlain);
  EXPECT_EQ(Read("80044012345K-1").asset, "4012345K-1");
  EXPECT_EQ(Read("8004").form, Form::kPlain);
}

TEST(Scan, DigitsAloneMayBeATradeItemNumber) {
  const Scan right = Read("6291041500213");
  EXPECT_EQ(right.form, Form::kGtin);
  EXPECT_TRUE(right.guessed);
  const Scan wrong = Read("6291041500214");
  EXPECT_EQ(wrong.form, Form::kPlain);
  EXPECT_THAT(wrong.remarks, Contains(HasSubstr("last digit should be 3")));
  EXPECT_THAT(Read("77123").remarks, IsEmpty());
}

// FHIR example device-example-udi1, as copies of it stand in public: braces for people, and U+2194
// where the code has a separator. The two name different items; both are read.
TEST(Scan, BracesAndArrowsOfPublicExamplesAreTaken) {
  const Scan people = Read("{01}00844588003288{17}141120{10}7654321D{21}10987654d321");
  EXPECT_EQ(people.form, Form::kGs1Bracketed);
  EXPECT_EQ(people.device_identifier, "00844588003288");
  EXPECT_EQ(people.lot, "7654321D");
  EXPECT_EQ(people.serial, "10987654d321");
  EXPECT_THAT(people.remarks, Contains(HasSubstr("braces")));
  const Scan code = Read(
      "]d2011085767400201717141120107654321D\xe2\x86\x94"
      "2110987654d321");
  EXPECT_EQ(code.device_identifier, "10857674002017");
  EXPECT_EQ(code.lot, "7654321D");
  EXPECT_EQ(code.serial, "10987654d321");
  EXPECT_THAT(code.remarks, Contains(HasSubstr("arrows")));
}

TEST(Scan, DatesWithoutADayAreRemarkedOn) {
  EXPECT_THAT(Read("(01)12345678901231(17)270200").remarks, Contains(HasSubstr("names no day")));
}

TEST(Scan, OfOtherForms) {
  EXPECT_EQ(Read("+A123BJC5D6E71G").form, Form::kHibc);
  EXPECT_EQ(Read("]C0+A123BJC5D6E71G").device_identifier, "A123BJC5D6E71");
  EXPECT_EQ(Read("https://example.org/01/09506000134352/21/7").form, Form::kGs1Link);
  EXPECT_EQ(Read("/wet 12").form, Form::kCard);
  EXPECT_THAT(Read("=A99971312345600").remarks, Contains(HasSubstr("not read here")));
}

TEST(Scan, ThatCannotBeReadSaysWhatToDo) {
  EXPECT_THAT(Refusal(""), HasSubstr("scan a label"));
  EXPECT_THAT(Refusal(" \r\n"), HasSubstr("scan a label"));
  EXPECT_THAT(Refusal("]d2"), HasSubstr("nothing was scanned"));
  EXPECT_THAT(Refusal(std::string(600, 'K')), HasSubstr("run together"));
  EXPECT_THAT(Refusal(std::string("K\0"
                                  "1",
                                  3)),
              HasSubstr("control characters"));
  EXPECT_THAT(Refusal("]d20112345678901232"), HasSubstr("wrong check digit"));
  EXPECT_THAT(Refusal("(01)12345678901232"), HasSubstr("wrong check digit"));
  EXPECT_THAT(Refusal("]E06291041500214"), HasSubstr("right check digit"));
  EXPECT_THAT(Refusal("+A123BJC5D6E71H"), HasSubstr("wrong check character"));
  EXPECT_THAT(Refusal("https://example.org/manual"), HasSubstr("names no item"));
  EXPECT_THAT(Refusal("/cleen"), HasSubstr("no card"));
}

}  // namespace
}  // namespace ferrule::label
