#include "core/label/gs1_table.h"

#include "gtest/gtest.h"

namespace ferrule::label {
namespace {

TEST(Identifiers, AreFoundByTheirFirstDigits) {
  ASSERT_NE(FindIdentifier("0112345678901231"), nullptr);
  EXPECT_EQ(FindIdentifier("0112345678901231")->code, "01");
  EXPECT_EQ(FindIdentifier("80041234")->code, "8004");
  EXPECT_EQ(FindIdentifier("240x")->code, "240");
  EXPECT_EQ(FindIdentifier("3103000123")->code, "310n");
  EXPECT_EQ(FindIdentifier("3109000123"), nullptr);
  EXPECT_EQ(FindIdentifier("0"), nullptr);
  EXPECT_EQ(FindIdentifier(""), nullptr);
  EXPECT_EQ(FindIdentifier("1A"), nullptr);
}

// The column "sep" of the dictionary: 10, 21, 240, 7003 and the assets need a separator.
TEST(Identifiers, EndByLengthOrBySeparator) {
  for (const char* fixed : {"00", "01", "11", "17", "20", "3103", "410"}) {
    EXPECT_TRUE(HasPredefinedLength(fixed)) << fixed;
    ASSERT_NE(FindIdentifier(std::string(fixed) + "0"), nullptr);
    const Component& only = FindIdentifier(fixed)->components[0];
    EXPECT_EQ(only.min, only.max) << fixed;
    EXPECT_EQ(FindIdentifier(fixed)->components[1].max, 0) << fixed;
  }
  for (const char* open : {"10", "21", "22", "235", "240", "7003", "8003", "8004", "8012"}) {
    EXPECT_FALSE(HasPredefinedLength(open)) << open;
  }
}

TEST(Characters, AreThe82) {
  int known = 0;
  for (int c = 0; c < 256; ++c) known += InSet('X', std::string(1, static_cast<char>(c))) ? 1 : 0;
  EXPECT_EQ(known, 82);
  EXPECT_FALSE(InSet('X', "a^b"));
  EXPECT_FALSE(InSet('X', "a b"));
  EXPECT_TRUE(InSet('N', "0123"));
  EXPECT_FALSE(InSet('N', "12a"));
}

}  // namespace
}  // namespace ferrule::label
