#include "core/label/check_characters.h"

#include "gtest/gtest.h"

namespace ferrule::label {
namespace {

struct Key {
  const char* whole;
  const char* source;
};

// A key with its check digit right, and the same with it wrong.
class Keys : public ::testing::TestWithParam<Key> {};

TEST_P(Keys, HaveTheCheckDigitOfTheirSource) {
  const std::string whole = GetParam().whole;
  EXPECT_EQ(Mod10(whole.substr(0, whole.size() - 1)), whole.back()) << GetParam().source;
}

constexpr char kWorked[] = "GS1, How to calculate a check digit manually";
constexpr char kSyntaxTests[] = "gs1-syntax-dictionary, src/lint_csum.c, commit ff2eb4bf";
INSTANTIATE_TEST_SUITE_P(
    Published, Keys,
    ::testing::Values(Key{"6291041500213", kWorked}, Key{"7300011000017", "GS1 Sweden, worked"},
                      Key{"02345673", kSyntaxTests}, Key{"416000336108", kSyntaxTests},
                      Key{"1234567890128", kSyntaxTests}, Key{"12345678901231", kSyntaxTests},
                      Key{"123456789012345675", kSyntaxTests},
                      Key{"51022222233336", "UDI formats by issuing agency, v1.3, GS1 table"}));

TEST(Mod10, WantsDigits) {
  EXPECT_EQ(Mod10("1234 678"), std::nullopt);
  EXPECT_EQ(Mod10(""), std::nullopt);
}

struct Worked {
  const char* text;
  char check;
};
class Mod43Of : public ::testing::TestWithParam<Worked> {};
TEST_P(Mod43Of, IsTheCheckCharacterOfItsSource) {
  EXPECT_EQ(Mod43(GetParam().text), GetParam().check);
}
// HIBC sections of scanner manuals, read second-hand: 145, 149 and 15 modulo 43.
INSTANTIATE_TEST_SUITE_P(Published, Mod43Of,
                         ::testing::Values(Worked{"+A123BJC5D6E71", 'G'},
                                           Worked{"+A1234BJC5D6E71", 'K'},
                                           Worked{"07000503", 'F'}));

TEST(Mod43, KnowsNoSmallLetters) { EXPECT_EQ(Mod43("+a123"), std::nullopt); }

// Values of python3-stdnum's iso7064.mod_37_36, which oracle_test.py holds against it in masses.
TEST(Mod37And36, CountsLettersAlikeInEitherCase) {
  EXPECT_EQ(Mod37And36("A12425GABC1234002"), 'M');
  EXPECT_EQ(Mod37And36("A999914123456"), 'Y');
  EXPECT_EQ(Mod37And36("a999914123456"), 'Y');
  EXPECT_EQ(Mod37And36("K-0417"), std::nullopt);
}

// Every single wrong character and every swap of neighbours that changes the tag is noticed.
TEST(Mod37And36, NoticesOneWrongCharacter) {
  const std::string tag = "K0417";
  const char right = *Mod37And36(tag);
  for (size_t i = 0; i < tag.size(); ++i) {
    for (char c : std::string("0123456789ABCDEFGHIJKLMNOPQRSTUVWXYZ")) {
      std::string wrong = tag;
      if (wrong[i] == c) continue;
      wrong[i] = c;
      EXPECT_NE(Mod37And36(wrong), right) << wrong;
    }
  }
}

// GS1 General Specifications, example of a global model number (from memory; bwip-js agrees).
TEST(ModelNumberPair, OfTheStandardsExample) {
  EXPECT_EQ(ModelNumberPair("1987654Ad4X4bL5ttr2310c"), "2K");
}

}  // namespace
}  // namespace ferrule::label
