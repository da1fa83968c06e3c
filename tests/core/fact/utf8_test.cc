#include "core/fact/utf8.h"

#include <gtest/gtest.h>

namespace ferrule::fact {
namespace {

TEST(Utf8, TakesEveryLengthOfCharacter) {
  EXPECT_TRUE(IsUtf8(""));
  EXPECT_TRUE(IsUtf8("knee"));
  EXPECT_TRUE(IsUtf8("\xC3\xBC\xE2\x82\xAC\xF0\x9F\xA6\xB5"));
  EXPECT_EQ(CountCharacters("\xC3\xBC\xE2\x82\xAC\xF0\x9F\xA6\xB5"), 3u);
}

TEST(Utf8, RefusesCutOverlongAndSurrogateForms) {
  for (const char* bad : {"\xC3", "\xFC", "\xC0\x80", "\xE0\x80\x80", "\xED\xA0\x80",
                          "\xF4\x90\x80\x80", "\x80", "a\xFF"}) {
    EXPECT_FALSE(IsUtf8(bad)) << bad;
  }
}

}  // namespace
}  // namespace ferrule::fact
