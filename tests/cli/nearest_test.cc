#include "cli/nearest.h"

#include "gmock/gmock.h"
#include "gtest/gtest.h"

namespace ferrule::cli {
namespace {

using ::testing::ElementsAre;
using ::testing::IsEmpty;

TEST(Nearest, CountsSlipsOfTheFinger) {
  EXPECT_EQ(Distance("move", "move"), 0);
  EXPECT_EQ(Distance("mvoe", "move"), 1);  // two neighbours swapped
  EXPECT_EQ(Distance("mov", "move"), 1);
  EXPECT_EQ(Distance("movve", "move"), 1);
  EXPECT_EQ(Distance("more", "move"), 1);
  EXPECT_EQ(Distance("", "move"), 4);
}

TEST(Nearest, NamesTheNearestFirst) {
  EXPECT_THAT(Nearest("recieve", {"release", "receive", "reserve"}), ElementsAre("receive"));
  EXPECT_THAT(Nearest("meter", {"read-meter", "roll-meter", "move"}),
              ElementsAre("read-meter", "roll-meter"));
}

TEST(Nearest, NamesNothingThatIsFarAway) {
  EXPECT_THAT(Nearest("frobnicate", {"move", "clean"}), IsEmpty());
  EXPECT_EQ(DidYouMean("frobnicate", {"move", "clean"}), "");
}

TEST(Nearest, MakesASentence) {
  EXPECT_EQ(DidYouMean("mvoe", {"move", "clean"}), "; did you mean move?");
  EXPECT_EQ(DidYouMean("meter", {"read-meter", "roll-meter", "move"}),
            "; did you mean read-meter or roll-meter?");
}

}  // namespace
}  // namespace ferrule::cli
