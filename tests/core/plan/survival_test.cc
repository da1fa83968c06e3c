#include "core/plan/survival.h"

#include <gtest/gtest.h>

#include <cmath>
#include <sstream>
#include <string>

namespace ferrule::plan {
namespace {

// "6 7+ 3~9": ended at 6; went on at 7; seen from 3 on, ended at 9.
std::vector<Stay> Stays(const std::string& text) {
  std::vector<Stay> stays;
  std::istringstream words(text);
  for (std::string word; words >> word;) {
    Stay stay;
    if (word.back() == '+') {
      stay.ended = false;
      word.pop_back();
    }
    if (const size_t at = word.find('~'); at != std::string::npos) {
      stay.entry = std::stod(word.substr(0, at));
      word = word.substr(at + 1);
    }
    stay.exit = std::stod(word);
    stays.push_back(stay);
  }
  return stays;
}

// Remission times of the 6-mercaptopurine trial: Freireich et al. 1963, Gehan 1965. Values: R
// survival 3.5-3.
const char kTreated[] = "6 6 6 6+ 7 9+ 10 10+ 11+ 13 16 17+ 19+ 20+ 22 23 25+ 32+ 32+ 34+ 35+";
const char kPlacebo[] = "1 1 2 2 3 4 4 5 5 8 8 8 8 11 11 12 12 15 17 22 23";

TEST(ProductLimit, TreatedArmOfTheRemissionTrial) {
  const auto curve = ProductLimit(Stays(kTreated));
  ASSERT_TRUE(curve.ok());
  const double time[] = {6, 7, 10, 13, 16, 22, 23};
  const int64_t at_risk[] = {21, 17, 15, 12, 11, 7, 6};
  const double survival[] = {.8571428571, .8067226891, .7529411765, .6901960784,
                             .6274509804, .5378151261, .4481792717};
  const double error[] = {.0763603548, .0869352852, .0963496530, .1068147078,
                          .1140538653, .1282337517, .1345914568};
  ASSERT_EQ(curve->steps().size(), 7u);
  for (size_t i = 0; i < 7; ++i) {
    EXPECT_EQ(curve->steps()[i].time, time[i]);
    EXPECT_EQ(curve->steps()[i].at_risk, at_risk[i]);
    EXPECT_NEAR(curve->steps()[i].survival, survival[i], 1e-10);
    EXPECT_NEAR(curve->steps()[i].standard_error, error[i], 1e-10);
  }
  EXPECT_NEAR(curve->steps()[6].cumulative_hazard, .7521135727, 1e-10);
  EXPECT_EQ(curve->Quantile(.5), 23);
  EXPECT_NEAR(curve->LimitsAt(10, .95).low, .5031995108, 1e-9);
  EXPECT_NEAR(curve->LimitsAt(10, .95).high, .8893618352, 1e-9);
  EXPECT_NEAR(curve->RestrictedMean(35), 23.287394958, 1e-8);
  EXPECT_NEAR(curve->RestrictedMeanError(35), 2.827467623, 1e-8);
  EXPECT_NEAR(curve->RestrictedMean(23), 17.909243697, 1e-8);
  EXPECT_NEAR(curve->RestrictedMeanError(23), 1.553189978, 1e-8);
}

// Cox and Oakes, Analysis of Survival Data, table 1.1: S(1) .905, S(2) .809, S(10) .381 (.106).
TEST(ProductLimit, PlaceboArmOfTheRemissionTrial) {
  const auto curve = ProductLimit(Stays(kPlacebo));
  ASSERT_TRUE(curve.ok());
  EXPECT_NEAR(curve->At(1), .905, 5e-4);
  EXPECT_NEAR(curve->At(2), .809, 1e-3);
  EXPECT_NEAR(curve->At(10), 8.0 / 21, 1e-14);
  EXPECT_NEAR(curve->steps()[5].standard_error, .1059711696, 1e-10);
  EXPECT_EQ(curve->At(23), 0);
  EXPECT_EQ(curve->Quantile(.5), 8);
}

// NIST/SEMATECH e-Handbook 8.2.1.5: 20 units, standard errors by R survival 3.5-3.
TEST(ProductLimit, TwentyUnitsOfTheReliabilityHandbook) {
  const auto curve = ProductLimit(
      Stays("10 32 56 98 122 181 50+ 100+ 125+ 150+ 200+ 200+ 200+ 200+ 200+ 200+ 200+ 200+ 200+ "
            "200+"));
  ASSERT_TRUE(curve.ok());
  const double survival[] = {.95, .90, .84705882, .79411765, .73739496, .67035905};
  const int64_t at_risk[] = {20, 19, 17, 16, 14, 11};
  const double error[] = {.048733972, .067082039, .081388320, .091921280, .101356803, .112140686};
  ASSERT_EQ(curve->steps().size(), 6u);
  for (size_t i = 0; i < 6; ++i) {
    EXPECT_NEAR(curve->steps()[i].survival, survival[i], 1e-8);
    EXPECT_EQ(curve->steps()[i].at_risk, at_risk[i]);
    EXPECT_NEAR(curve->steps()[i].standard_error, error[i], 1e-9);
  }
}

// Maintained arm of the leukaemia data that R survival calls aml (Miller 1997).
TEST(ProductLimit, MaintainedArm) {
  const auto curve = ProductLimit(Stays("9 13 13+ 18 23 28+ 31 34 45+ 48 161+"));
  ASSERT_TRUE(curve.ok());
  EXPECT_NEAR(curve->At(9), .9090909091, 1e-10);
  EXPECT_NEAR(curve->steps()[0].standard_error, .0866784172, 1e-10);
  EXPECT_NEAR(curve->At(18), .7159090909, 1e-10);
  EXPECT_NEAR(curve->At(34), .3681818182, 1e-10);
  EXPECT_NEAR(curve->At(48), .1840909091, 1e-10);
}

TEST(ProductLimit, SmallCaseByHand) {
  const auto curve = ProductLimit(Stays("2 5+ 8 12+ 15 21+ 25 29 30+ 34"));
  ASSERT_TRUE(curve.ok());
  const double survival[] = {.9, .7875, .65625, .4921875, .328125, 0};
  for (size_t i = 0; i < 6; ++i) EXPECT_NEAR(curve->steps()[i].survival, survival[i], 1e-14);
  EXPECT_NEAR(curve->RestrictedMean(34), 23.1, .05);
  EXPECT_NEAR(curve->RestrictedMean(20), 16.2, .05);
  EXPECT_NEAR(std::exp(-curve->steps()[3].cumulative_hazard), .5264143, 1e-6);
}

TEST(ProductLimit, AReturnComesBeforeACensoringOnTheSameDay) {
  const auto curve = ProductLimit(Stays("5 5+ 8 9"));
  ASSERT_TRUE(curve.ok());
  EXPECT_EQ(curve->steps()[0].at_risk, 4);
  EXPECT_NEAR(curve->At(5), .75, 1e-15);
}

TEST(ProductLimit, DelayedEntryCountsUnitsOnlyWhileTheyAreSeen) {
  // By hand: at 4 three are at risk (the last two are seen from 4 and 5 on), at 6 four.
  const auto curve = ProductLimit(Stays("4 6 9+ 4~8 5~10"));
  ASSERT_TRUE(curve.ok());
  EXPECT_EQ(curve->steps()[0].at_risk, 3);
  EXPECT_EQ(curve->steps()[1].at_risk, 4);
  EXPECT_NEAR(curve->At(6), 2.0 / 3 * .75, 1e-15);
  // Half days take the sorted way and must agree.
  const auto halves = ProductLimit(Stays("2 3 4.5+ 2~4 2.5~5"));
  ASSERT_TRUE(halves.ok());
  for (size_t i = 0; i < curve->steps().size(); ++i) {
    EXPECT_EQ(halves->steps()[i].at_risk, curve->steps()[i].at_risk);
    EXPECT_EQ(halves->steps()[i].survival, curve->steps()[i].survival);
  }
  EXPECT_NEAR(2 * halves->RestrictedMean(4), curve->RestrictedMean(8), 1e-12);
}

TEST(ProductLimit, OverdueUnitsAlwaysHaveSomeChanceToStay) {
  const auto curve = ProductLimit(Stays("14 14 21 21 21 28"));
  ASSERT_TRUE(curve.ok());
  EXPECT_GT(curve->tail_hazard(), 0);
  EXPECT_EQ(curve->Remaining(60, 0), 1);
  EXPECT_GT(curve->Remaining(60, 1), 0);
  EXPECT_GT(curve->Remaining(60, 1), curve->Remaining(60, 2));
  EXPECT_NEAR(curve->Remaining(14, 7), .25, 1e-12);
  EXPECT_NEAR(curve->Remaining(0, 20), 4.0 / 6, 1e-12);
  double last = 1;
  for (int h = 1; h < 400; ++h) {
    const double now = curve->Remaining(10, h);
    EXPECT_LE(now, last);
    EXPECT_GT(now, 0);
    last = now;
  }
}

TEST(ProductLimit, TooLittleDataStillAnswers) {
  const auto none = ProductLimit({});
  ASSERT_TRUE(none.ok());
  EXPECT_EQ(none->At(10), 1);
  EXPECT_NEAR(none->tail_hazard(), .1, 1e-15);
  EXPECT_NEAR(none->Remaining(5, 10), std::exp(-1.0), 1e-12);
  const auto censored = ProductLimit(Stays("5+ 9+"));
  ASSERT_TRUE(censored.ok());
  EXPECT_EQ(censored->ended(), 0);
  EXPECT_GT(censored->Remaining(9, 30), 0);
  EXPECT_LT(censored->Remaining(9, 30), 1);
  EXPECT_EQ(censored->Quantile(.5), -1);
  EXPECT_EQ(censored->LimitsAt(5, .95).high, 1);
}

TEST(ProductLimit, ImpossibleStaysAreNamed) {
  const auto backwards = ProductLimit({{5, true, 0}, {3, true, 7}});
  EXPECT_EQ(backwards.status().code(), absl::StatusCode::kInvalidArgument);
  EXPECT_NE(std::string(backwards.status().message()).find("stay 1"), std::string::npos);
  EXPECT_FALSE(ProductLimit({{std::nan(""), true, 0}}).ok());
  EXPECT_FALSE(ProductLimit({{4, true, -1}}).ok());
}

TEST(LogRankTest, ArmsOfTheRemissionTrialDiffer) {
  const LogRank test = CompareStays({Stays(kTreated), Stays(kPlacebo)});
  EXPECT_NEAR(test.chi_square, 16.79294100, 1e-7);
  EXPECT_EQ(test.degrees_of_freedom, 1);
  EXPECT_EQ(test.observed[0], 9);
  EXPECT_EQ(test.observed[1], 21);
  EXPECT_NEAR(test.expected[0], 19.3, .05);
  EXPECT_NEAR(test.expected[1], 10.7, .05);
  EXPECT_LT(test.p_value, 1e-4);
}

TEST(LogRankTest, EqualGroupsAndEmptyOnesDoNotDiffer) {
  const LogRank same = CompareStays({Stays("3 5 8 9+"), Stays("3 5 8 9+")});
  EXPECT_NEAR(same.chi_square, 0, 1e-12);
  EXPECT_NEAR(same.p_value, 1, 1e-12);
  EXPECT_EQ(CompareStays({Stays("3 5"), {}}).p_value, 1);
  EXPECT_EQ(CompareStays({}).degrees_of_freedom, 0);
}

}  // namespace
}  // namespace ferrule::plan
