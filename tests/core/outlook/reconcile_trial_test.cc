#include "core/outlook/reconcile_trial.h"

#include <cmath>

#include "gmock/gmock.h"
#include "gtest/gtest.h"

namespace ferrule::outlook {
namespace {

using ::testing::HasSubstr;

// Weekly origins of a week ahead. The classes' forecasts swing by up to 2 units, `whole_error`
// tells how far that of the whole is off.
template <typename Error>
SumsTrial Tried(int origins, Error whole_error) {
  SumsTrial trial;
  for (int i = 0; i < origins; ++i) {
    SumsTrial::Origin origin;
    origin.day = 7 * i;
    origin.parts.resize(2);
    origin.came.resize(2);
    const double swing = 2 * std::sin(1.7 * i), other = 1.5 * std::cos(2.9 * i);
    for (int h = 0; h < 7; ++h) {
      origin.whole.push_back(30 + whole_error(i));
      origin.parts[0].push_back(20 + swing);
      origin.parts[1].push_back(10 + other);
      origin.came[0].push_back(20);
      origin.came[1].push_back(10);
    }
    trial.Add("north", origin);
  }
  return trial;
}

TEST(SumsTrial, AWholeThatIsKnownHelpsItsParts) {
  const auto result = Tried(20, [](int) { return 0; }).Judged();
  EXPECT_EQ(result.origins, 14);  // the first six only teach
  EXPECT_EQ(result.days, 14 * 7 * 2);
  EXPECT_LT(result.reconciled, .9 * result.plain);
  EXPECT_THAT(Tried(20, [](int) { return 0; }).Words(), HasSubstr("clearly nearer"));
}

TEST(SumsTrial, AWholeThatIsFarOffIsHardlyBelieved) {
  const auto wild = [](int i) { return i % 2 == 0 ? 15.0 : -15.0; };
  const auto result = Tried(20, wild).Judged();
  EXPECT_LT(result.reconciled, 1.1 * result.plain);
  EXPECT_THAT(Tried(20, wild).Words(), HasSubstr("no clear gain"));
}

TEST(SumsTrial, TooFewOriginsAreNotJudged) {
  const SumsTrial trial = Tried(6, [](int) { return 0; });
  EXPECT_EQ(trial.Judged().origins, 0);
  EXPECT_EQ(trial.Words(), "");
  EXPECT_EQ(SumsTrial().Judged().plain, 0);
}

TEST(SumsTrial, OnlyDaysThatHadComeTeach) {
  SumsTrial trial;
  for (int i = 0; i < 8; ++i) {
    SumsTrial::Origin origin;
    origin.day = i;  // a week ahead, every day: at most the first has come by the last
    origin.whole.assign(7, 4);
    origin.parts.assign(1, std::vector<double>(7, 5));
    origin.came.assign(1, std::vector<double>(7, 6));
    trial.Add("north", origin);
  }
  EXPECT_EQ(trial.Judged().origins, 0);
}

}  // namespace
}  // namespace ferrule::outlook
