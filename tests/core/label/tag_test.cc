#include "core/label/tag.h"

#include "core/label/gs1.h"
#include "gmock/gmock.h"
#include "gtest/gtest.h"

namespace ferrule::label {
namespace {

using ::testing::HasSubstr;

const TagRules kPlain;
const TagRules kChecked{true, ""};
const TagRules kGs1{true, "4012345"};

TEST(Tag, WithoutRulesStandsAsItIs) {
  EXPECT_EQ(TagOnLabel("K-0417", kPlain), "K-0417");
  EXPECT_EQ(*TagFromLabel("K-0417", kPlain), "K-0417");
}

TEST(Tag, WithACheckCharacterComesBackWhole) {
  for (const char* tag : {"K-0417", "7", "a.b_c", "X-Y"}) {
    const std::string label = TagOnLabel(tag, kChecked);
    EXPECT_EQ(label.size(), std::string(tag).size() + 1);
    EXPECT_EQ(*TagFromLabel(label, kChecked), tag);
  }
}

TEST(Tag, WithAWrongCheckCharacterIsRefused) {
  const std::string label = TagOnLabel("K-0417", kChecked);
  std::string swapped = label;
  std::swap(swapped[3], swapped[4]);
  for (const std::string& wrong :
       {swapped, std::string("K-0417"), std::string("K"), std::string()}) {
    const auto tag = TagFromLabel(wrong, kChecked);
    EXPECT_THAT(std::string(tag.status().message()), HasSubstr("scan the label again")) << wrong;
  }
}

TEST(Tag, IsAnIndividualAsset) {
  EXPECT_EQ(*AssetIdentifier("K-0417", kGs1), "4012345K-0417");
  EXPECT_EQ(TagOfAsset("4012345K-0417", kGs1), "K-0417");
  EXPECT_EQ(TagOfAsset("4099999K-0417", kGs1), std::nullopt);
  EXPECT_EQ(TagOfAsset("4012345", kGs1), std::nullopt);
  EXPECT_THAT(std::string(AssetIdentifier("K-0417", kPlain).status().message()),
              HasSubstr("gs1_company_prefix"));
  EXPECT_THAT(std::string(AssetIdentifier(std::string(24, 'K'), kGs1).status().message()),
              HasSubstr("at most 30"));
}

TEST(Tag, ItsCodeIsReadBack) {
  const LabelCode gs1 = CodeOfTag("K-0417", kGs1);
  EXPECT_TRUE(gs1.gs1);
  const auto elements = ParseElements(gs1.payload, 2026);
  ASSERT_TRUE(elements.ok()) << elements.status();
  EXPECT_EQ(TagOfAsset(elements->front().value, kGs1), "K-0417");
  EXPECT_EQ(ParseBracketed(gs1.people, 2026)->front().value, elements->front().value);
  // Too long for an asset identifier: the tag alone.
  EXPECT_FALSE(CodeOfTag(std::string(24, 'K'), kGs1).gs1);
  EXPECT_EQ(CodeOfTag("K-0417", kPlain).payload, "K-0417");
}

}  // namespace
}  // namespace ferrule::label
