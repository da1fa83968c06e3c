#include "core/label/link.h"

#include "gmock/gmock.h"
#include "gtest/gtest.h"

namespace ferrule::label {
namespace {

constexpr int kYear = 2026;

// Form of the GS1 Digital Link standard's examples, from memory.
TEST(Link, IsAnElementString) {
  const auto read = ParseLink(
      "https://id.example.org/some/where/01/09506000134352/10/AB%2FC/21/12345?17=261231&lang=de",
      kYear);
  ASSERT_TRUE(read.ok()) << read.status();
  ASSERT_EQ(read->size(), 4u);
  EXPECT_EQ(FindElement(*read, "01")->value, "09506000134352");
  EXPECT_EQ(FindElement(*read, "10")->value, "AB/C");
  EXPECT_EQ(FindElement(*read, "21")->value, "12345");
  EXPECT_EQ(FindElement(*read, "17")->date, absl::CivilDay(2026, 12, 31));
}

TEST(Link, MayLeaveOutLeadingZerosOfTheItemNumber) {
  const auto read = ParseLink("HTTP://example.org/01/6291041500213", kYear);
  ASSERT_TRUE(read.ok()) << read.status();
  EXPECT_EQ(read->front().value, "06291041500213");
}

TEST(Link, ToAnAsset) {
  const auto read = ParseLink("https://example.org/8004/4012345K-0417#top", kYear);
  ASSERT_TRUE(read.ok()) << read.status();
  EXPECT_EQ(read->front().value, "4012345K-0417");
}

TEST(Link, OfAnotherKindIsRefused) {
  for (const char* wrong :
       {"https://", "https://example.org", "https://example.org/manual?x=1",
        "https://example.org/01/09506000134353", "https://example.org/01", "ftp://example.org/01/1",
        "https://example.org/01/09506000134352/10/A%2", "https://example.org/01/%zz",
        "https://example.org/01/09506000134352/lot/A", "https://example.org/8004/4012?99999=1"}) {
    EXPECT_EQ(ParseLink(wrong, kYear).status().code(), absl::StatusCode::kInvalidArgument) << wrong;
  }
  EXPECT_FALSE(IsWebAddress("K-0417"));
}

}  // namespace
}  // namespace ferrule::label
