#include "core/label/compose.h"

#include "core/label/gs1.h"
#include "gtest/gtest.h"

namespace ferrule::label {
namespace {

// gs1-syntax-engine, src/c-lib/ai.c: no separator behind 01, one behind 10.
TEST(Compose, PutsASeparatorWhereLengthDoesNotEndTheValue) {
  EXPECT_EQ(*ComposeElements({{"01", "12345678901231"}, {"10", "12345"}}),
            "01123456789012311012345");
  EXPECT_EQ(*ComposeElements({{"10", "12345"}, {"11", "991225"}}),
            "1012345\x1d"
            "11991225");
}

TEST(Compose, BracketsInAValueAreEscaped) {
  const Values values = {{"10", "1(2)3"}, {"21", "("}};
  const auto text = ComposeBracketed(values);
  EXPECT_EQ(*text, "(10)1\\(2)3(21)\\(");
  const auto read = ParseBracketed(*text, 2026);
  ASSERT_TRUE(read.ok()) << read.status();
  EXPECT_EQ((*read)[0].value, "1(2)3");
  EXPECT_EQ((*read)[1].value, "(");
}

TEST(Compose, WrongValuesAreRefused) {
  EXPECT_FALSE(ComposeElements({{"01", "12345678901232"}}).ok());
  EXPECT_FALSE(ComposeBracketed({{"66", "1"}}).ok());
}

}  // namespace
}  // namespace ferrule::label
