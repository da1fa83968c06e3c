#include "core/label/gs1.h"

#include "absl/strings/str_cat.h"
#include "absl/strings/str_replace.h"
#include "gmock/gmock.h"
#include "gtest/gtest.h"

namespace ferrule::label {
namespace {

using ::testing::HasSubstr;
using ::testing::IsEmpty;

constexpr int kYear = 2026;

// "(01)123(10)45" of what was read.
std::string Shown(const absl::StatusOr<std::vector<Element>>& elements) {
  if (!elements.ok()) return "";
  std::string text;
  for (const Element& e : *elements) absl::StrAppend(&text, "(", e.code, ")", e.value);
  return text;
}

// "^" stands for the function character, as in the cases of the source.
std::string Separated(const char* text) {
  return absl::StrReplaceAll(text, {{"^", std::string(1, kSeparator)}});
}

// gs1-syntax-engine, src/c-lib/ai.c, commit 50657dbd.
TEST(Elements, ReadAlikeWithBracketsAndWithSeparators) {
  struct Case {
    const char* bracketed;
    const char* separated;
  };
  for (const Case& one : {Case{"(01)12345678901231(10)12345", "^01123456789012311012345"},
                          Case{"(10)12345(11)991225", "^1012345^11991225"},
                          Case{"(3100)123456(10)12345", "^31001234561012345"},
                          Case{"(10)12345\\(11)991225", "^1012345(11)991225"}}) {
    const auto bracketed = ParseBracketed(one.bracketed, kYear);
    const auto separated = ParseElements(Separated(one.separated), kYear);
    ASSERT_TRUE(bracketed.ok()) << bracketed.status();
    ASSERT_TRUE(separated.ok()) << separated.status();
    EXPECT_EQ(Shown(bracketed), Shown(separated));
    EXPECT_NE(Shown(bracketed), "");
  }
}

TEST(Bracketed, OutOfShapeIsRefused) {
  const std::string too_long = "(235)" + std::string(29, 'A');
  for (const std::string& wrong :
       {std::string("(10)(11)98765"), std::string("(1A)12345"), std::string("1(12345"),
        std::string("()12345"), std::string("(1)12345"), std::string("(12345)12345"),
        std::string("(15"), std::string("(01)123456789012312(10)12345"), std::string("(10)12^45"),
        too_long, std::string("(17)9(90)217"), std::string(""), std::string("(10)")}) {
    const auto read = ParseBracketed(wrong, kYear);
    EXPECT_EQ(read.status().code(), absl::StatusCode::kInvalidArgument) << wrong;
  }
}

// "UDI formats by FDA-accredited issuing agency", version 1.3, 27 January 2017, GS1 table.
TEST(Bracketed, UniqueDeviceIdentifierOfTheAgencysTable) {
  const auto read =
      ParseBracketed("(01)51022222233336(11)141231(17)150707(10)A213B1(21)1234", kYear);
  ASSERT_TRUE(read.ok()) << read.status();
  EXPECT_EQ(FindElement(*read, "01")->value, "51022222233336");
  EXPECT_EQ(FindElement(*read, "11")->date, absl::CivilDay(2014, 12, 31));
  EXPECT_EQ(FindElement(*read, "17")->date, absl::CivilDay(2015, 7, 7));
  EXPECT_EQ(FindElement(*read, "10")->value, "A213B1");
  EXPECT_EQ(FindElement(*read, "21")->value, "1234");
  EXPECT_EQ(FindElement(*read, "30"), nullptr);
  EXPECT_THAT(*CompanionRemarks(*read), IsEmpty());
}

// scandata.c: "Trailing FNC1 is not stripped", and it is no error.
TEST(Elements, MayEndWithASeparator) {
  EXPECT_EQ(Shown(ParseElements(Separated("10ABC^"), kYear)), "(10)ABC");
  EXPECT_EQ(Shown(ParseElements(Separated("0112345678901231^"), kYear)), "(01)12345678901231");
  EXPECT_FALSE(ParseElements(Separated("10ABC^^21X"), kYear).ok());
  EXPECT_FALSE(ParseElements(Separated("^"), kYear).ok());
}

TEST(Elements, SayWhatIsWrongAndWhatToDo) {
  struct Case {
    const char* data;
    const char* words;
  };
  for (const Case& one :
       {Case{"0112345678901232", "wrong check digit, 2 instead of 1"},
        Case{"011234567890123", "exactly 14 digits"}, Case{"17251301", "no day of the calendar"},
        Case{"66123", "no GS1 application identifier"},
        Case{"10A B", "has a character that these codes do not know"},
        Case{"8004X123", "digits of a company prefix"},
        Case{"800312345678901231", "does not begin with 0"},
        Case{"80060111111111111600", "exactly 18"}, Case{"70032512312561", "no such time"},
        Case{"8013198765", "wrong check characters"}, Case{"10", "lot (10) is empty"}}) {
    const auto read = ParseElements(one.data, kYear);
    ASSERT_FALSE(read.ok()) << one.data;
    EXPECT_THAT(std::string(read.status().message()), HasSubstr(one.words)) << one.data;
    EXPECT_THAT(std::string(read.status().message()), HasSubstr("scan it again")) << one.data;
  }
}

TEST(Companions, ThatAreMissingAreToldOf) {
  EXPECT_THAT(CompanionRemarks(*ParseElements("10ABC", kYear))->front(),
              HasSubstr("belongs to an item number"));
  EXPECT_THAT(CompanionRemarks(*ParseElements(Separated("0112345678901231375^"), kYear))->front(),
              HasSubstr("never stands with"));
  EXPECT_THAT(*CompanionRemarks(*ParseElements("80044012345K-1", kYear)), IsEmpty());
}

TEST(Companions, TheSameElementTwiceMustSayTheSame) {
  const std::string item = "0112345678901231";
  EXPECT_TRUE(CompanionRemarks(*ParseElements(item + item, kYear)).ok());
  const auto differing = CompanionRemarks(*ParseElements(Separated("21A^21B"), kYear));
  EXPECT_THAT(std::string(differing.status().message()), HasSubstr("twice, \"A\" and \"B\""));
}

TEST(Gtin14, FillsShorterNumbersWithZeros) {
  EXPECT_EQ(Gtin14("6291041500213"), "06291041500213");
  EXPECT_EQ(Gtin14("02345673"), "00000002345673");
  EXPECT_EQ(Gtin14("416000336108"), "00416000336108");
  EXPECT_EQ(Gtin14("6291041500214"), std::nullopt);
  EXPECT_EQ(Gtin14("123456789"), std::nullopt);
  EXPECT_EQ(Gtin14("0234567X"), std::nullopt);
}

}  // namespace
}  // namespace ferrule::label
