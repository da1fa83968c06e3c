// Units that fail beyond chance, against published chances and R.
#include "core/reliability/excess.h"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

namespace ferrule::reliability {
namespace {

// The 15 chances of Benjamini and Hochberg, J. R. Statist. Soc. B 57 (1995) 289-300, section 3.1
// (from memory): at 0.05 their procedure names four, Bonferroni's three. Corrected values from
// R 4.2.2, p.adjust(p, "BH").
TEST(CorrectForMany, NamesFourOfThePublishedFifteen) {
  const std::vector<double> p = {0.0001, 0.0004, 0.0019, 0.0095, 0.0201, 0.0278, 0.0298, 0.0344,
                                 0.0459, 0.3240, 0.4262, 0.5719, 0.6528, 0.7590, 1.000};
  const double kCorrected[] = {0.0015,        0.003,         0.0095,        0.035625,      0.0603,
                               0.06385714286, 0.06385714286, 0.0645,        0.0765,        0.486,
                               0.58118181818, 0.714875,      0.75323076923, 0.81321428571, 1};
  const std::vector<double> corrected = CorrectForMany(p);
  int named = 0;
  for (size_t i = 0; i < p.size(); ++i) {
    EXPECT_NEAR(corrected[i], kCorrected[i], 1e-10) << i;
    if (corrected[i] <= 0.05) ++named;
  }
  EXPECT_EQ(named, 4);
}

TEST(CorrectForMany, KeepsTheOrderTheyCameIn) {
  const std::vector<double> corrected = CorrectForMany({0.5, 0.01});
  EXPECT_DOUBLE_EQ(corrected[0], 0.5);
  EXPECT_DOUBLE_EQ(corrected[1], 0.02);
  EXPECT_TRUE(CorrectForMany({}).empty());
}

// Ten failures in all; one unit in ten of the hours had three. R 4.2.2: 1 - pbinom(2, 10, 0.1).
TEST(Chance, OfOneUnitIsBinomialWithItsShareOfTheHours) {
  std::vector<Exposure> units(10, {100, 0});
  units[0].failures = 3;
  units[1].failures = 7;
  const std::vector<double> chances = ChancesOfSoMany(units);
  EXPECT_NEAR(chances[0], 0.0701908264, 1e-10);
  EXPECT_DOUBLE_EQ(chances[2], 1) << "none or more is certain";
}

TEST(Chance, CountsHoursAndNotUnits) {
  const std::vector<double> chances = ChancesOfSoMany({{10, 2}, {990, 2}});
  EXPECT_LT(chances[0], 0.001) << "half the failures in a hundredth of the hours";
  EXPECT_GT(chances[1], 0.9);
}

TEST(Chance, WithoutHoursIsTotal) {
  EXPECT_THAT(ChancesOfSoMany({{0, 1}, {100, 1}, {0, 0}}), ::testing::ElementsAre(0, 1, 1));
  EXPECT_THAT(ChancesOfSoMany({{0, 1}}), ::testing::ElementsAre(1)) << "no hours at all";
}

}  // namespace
}  // namespace ferrule::reliability
