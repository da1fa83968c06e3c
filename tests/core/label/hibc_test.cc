#include "core/label/hibc.h"

#include "absl/strings/str_cat.h"
#include "core/label/check_characters.h"
#include "gmock/gmock.h"
#include "gtest/gtest.h"

namespace ferrule::label {
namespace {

using ::testing::HasSubstr;

constexpr int kYear = 2026;

// A text with its check character.
std::string Checked(const std::string& text) { return text + *Mod43(text); }

// The element with that flag, or an empty one.
Element Of(const HibcLabel& label, std::string_view code) {
  const Element* element = FindElement(label.elements, code);
  return element == nullptr ? Element{} : *element;
}

// HIBC sections of scanner manuals, read second-hand.
TEST(Hibc, PrimaryCodeOfTheManuals) {
  for (const char* text : {"+A123BJC5D6E71G", "*+A123BJC5D6E71G*"}) {
    EXPECT_TRUE(IsHibc(text));
    const auto label = ParseHibc(text, kYear);
    ASSERT_TRUE(label.ok()) << label.status();
    EXPECT_EQ(label->device_identifier, "A123BJC5D6E71");
    EXPECT_EQ(label->lot, "");
  }
}

// FHIR example device-example-udi3, whose last character is wrong there: "C" for "H".
constexpr char kExample[] =
    "+H123PARTNO1234567890120/$$420020216LOT123456789012345/SXYZ456789012345678/16D20130202";

TEST(Hibc, ConcatenatedExampleReadsFieldByField) {
  const auto label = ParseHibc(absl::StrCat(kExample, "H"), kYear);
  ASSERT_TRUE(label.ok()) << label.status();
  EXPECT_EQ(label->device_identifier, "H123PARTNO1234567890120");
  EXPECT_EQ(label->lot, "LOT123456789012345");
  EXPECT_EQ(label->serial, "XYZ456789012345678");
  EXPECT_EQ(Of(*label, "$$4").date, absl::CivilDay(2020, 2, 2));
  EXPECT_EQ(Of(*label, "16D").date, absl::CivilDay(2013, 2, 2));
  EXPECT_EQ(Of(*label, "16D").title, "made on");
}

TEST(Hibc, TheExamplesOwnCheckCharacterIsWrong) {
  const auto label = ParseHibc(absl::StrCat(kExample, "C"), kYear);
  EXPECT_THAT(std::string(label.status().message()),
              HasSubstr("wrong check character, C instead of H"));
}

// Flags of the secondary data, from memory.
struct Secondary {
  const char* text;
  const char* lot;
  const char* serial;
  absl::CivilDay date;
};
class SecondaryData : public ::testing::TestWithParam<Secondary> {};
TEST_P(SecondaryData, IsReadByItsFlag) {
  const Secondary& one = GetParam();
  const auto label = ParseHibc(Checked(absl::StrCat("+A123BJC5D6E71/", one.text)), kYear);
  ASSERT_TRUE(label.ok()) << one.text << ": " << label.status();
  EXPECT_EQ(label->lot, one.lot);
  EXPECT_EQ(label->serial, one.serial);
  absl::CivilDay date(1, 1, 1);
  for (const Element& element : label->elements) {
    if (element.date.has_value()) date = *element.date;
  }
  EXPECT_EQ(date, one.date);
}
using Day = absl::CivilDay;
const Day kNone(1, 1, 1);
INSTANTIATE_TEST_SUITE_P(
    Flags, SecondaryData,
    ::testing::Values(Secondary{"$LOT9", "LOT9", "", kNone}, Secondary{"$+S9", "", "S9", kNone},
                      Secondary{"27031LOT9", "LOT9", "", Day(2027, 1, 31)},
                      Secondary{"$$0227LOT9", "LOT9", "", Day(2027, 2, 28)},
                      Secondary{"$$2013127L", "L", "", Day(2027, 1, 31)},
                      Secondary{"$$3270131L", "L", "", Day(2027, 1, 31)},
                      Secondary{"$$427013123L", "L", "", Day(2027, 1, 31)},
                      Secondary{"$$527031L", "L", "", Day(2027, 1, 31)},
                      Secondary{"$$62703112L", "L", "", Day(2027, 1, 31)},
                      Secondary{"$$7LOT9", "LOT9", "", kNone},
                      Secondary{"$$+3270131S9", "", "S9", Day(2027, 1, 31)},
                      Secondary{"$$8203270131L", "L", "", Day(2027, 1, 31)},
                      Secondary{"$$9000207L", "L", "", kNone},
                      Secondary{"$L/S77/14D20270131/Q5", "L", "77", Day(2027, 1, 31)}));

TEST(Hibc, SecondaryCodeAloneNamesTheCheckCharacterOfTheFirst) {
  const auto label = ParseHibc(Checked("+$$3270131LOT9G"), kYear);
  ASSERT_TRUE(label.ok()) << label.status();
  EXPECT_EQ(label->device_identifier, "");
  EXPECT_EQ(label->lot, "LOT9");
  EXPECT_EQ(Of(*label, "link").value, "G");
}

TEST(Hibc, OutOfShapeIsRefusedInWords) {
  struct Case {
    std::string text;
    const char* words;
  };
  for (const Case& one : {Case{"+A1", "too short"}, Case{"+a123bjc5d6e71g", "do not know"},
                          Case{"+A123BJC5D6E71H", "H instead of G"},
                          Case{Checked("+A123BJC5D6E7X"), "unit of measure"},
                          Case{Checked("+A1231"), "unit of measure"},
                          Case{Checked("+A123BJC5D6E71/$$3271331L"), "calendar does not have"},
                          Case{Checked("+A123BJC5D6E71/$$327"), "broken date"},
                          Case{Checked("+A123BJC5D6E71/ZZZ"), "not read here"},
                          Case{Checked("+A123BJC5D6E71/$$8A"), "pieces"},
                          Case{Checked("+A123BJC5D6E71/$" + std::string(26, 'L')), "too long"}}) {
    const auto label = ParseHibc(one.text, kYear);
    ASSERT_FALSE(label.ok()) << one.text;
    EXPECT_THAT(std::string(label.status().message()), HasSubstr(one.words)) << one.text;
  }
}

}  // namespace
}  // namespace ferrule::label
