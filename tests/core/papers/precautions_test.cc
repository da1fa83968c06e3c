#include "core/papers/precautions.h"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <set>

namespace ferrule::papers {
namespace {

using ::testing::HasSubstr;

TEST(Precautions, EachIsASentenceOfItsOwn) {
  std::set<std::string> sentences;
  for (int i = 1; i <= v1::Precaution_MAX; ++i) {
    const std::string sentence = PrecautionSentence(v1::Precaution(i));
    EXPECT_TRUE(sentences.insert(sentence).second) << sentence;
    EXPECT_TRUE(sentence.ends_with(".")) << sentence;
    EXPECT_THAT(sentence, ::testing::Not(HasSubstr("Another precaution"))) << i;
  }
  EXPECT_THAT(PrecautionSentence(v1::PRECAUTION_NO_OUTLET), HasSubstr("Plug nothing in"));
}

TEST(Precautions, OneOfALaterReleaseIsAskedFor) {
  EXPECT_THAT(PrecautionSentence(v1::Precaution(99)), HasSubstr("ask the branch before you go"));
}

}  // namespace
}  // namespace ferrule::papers
