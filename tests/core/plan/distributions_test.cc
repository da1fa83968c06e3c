#include "core/plan/distributions.h"

#include <gtest/gtest.h>

#include <boost/math/distributions/poisson.hpp>
#include <cmath>
#include <vector>

namespace ferrule::plan {
namespace {

constexpr double kInfinity = std::numeric_limits<double>::infinity();

void ExpectQuantiles(const CountLaw& law, const std::vector<double>& at,
                     const std::vector<int64_t>& want) {
  ASSERT_EQ(at.size(), want.size());
  for (size_t i = 0; i < at.size(); ++i)
    EXPECT_EQ(Quantile(law, at[i]), want[i]) << law.mean << " " << law.size << " at " << at[i];
}

const std::vector<double> kTen = {.025, .05, .1, .5, .8, .9, .95, .975, .99, .999};
const std::vector<double> kUpper = {.5, .8, .9, .95, .975, .99, .999};

// Values: R 4.2.2 qpois and qnbinom.
TEST(CountLaws, PoissonQuantilesAreTheSmallestCountThatReaches) {
  ExpectQuantiles({.1}, kTen, {0, 0, 0, 0, 0, 0, 1, 1, 1, 2});
  ExpectQuantiles({1}, kTen, {0, 0, 0, 1, 2, 2, 3, 3, 4, 5});
  ExpectQuantiles({3.5}, kTen, {0, 1, 1, 3, 5, 6, 7, 8, 8, 11});
  ExpectQuantiles({10}, kTen, {4, 5, 6, 10, 13, 14, 15, 17, 18, 21});
  ExpectQuantiles({84}, kTen, {67, 69, 72, 84, 92, 96, 99, 102, 106, 114});
  ExpectQuantiles({250}, kUpper, {250, 263, 270, 276, 281, 288, 300});
  ExpectQuantiles({1000}, kUpper, {1000, 1027, 1041, 1052, 1062, 1074, 1099});
}

TEST(CountLaws, NegativeBinomialQuantilesAreTheSmallestCountThatReaches) {
  ExpectQuantiles({3, 1}, kTen, {0, 0, 0, 2, 5, 8, 10, 12, 16, 24});
  ExpectQuantiles({3, 10}, kTen, {0, 0, 1, 3, 5, 6, 7, 8, 9, 11});
  ExpectQuantiles({20, 5}, kTen, {5, 6, 9, 19, 28, 33, 39, 43, 50, 64});
  ExpectQuantiles({84, 100}, kTen, {61, 64, 68, 84, 94, 100, 105, 110, 115, 126});
}

// A library default rounds lower quantiles outwards and so gives a count that is one too low;
// that default must not be what is used here.
TEST(CountLaws, LowerQuantilesAreNotRoundedOutwards) {
  const boost::math::poisson outward(84);
  EXPECT_EQ(static_cast<int64_t>(quantile(outward, .025)), 66);
  EXPECT_EQ(Quantile({84}, .025), 67);
  for (double mean : {.3, 2.0, 17.5, 84.0, 640.0})
    for (double p : kTen) {
      const int64_t x = Quantile({mean}, p);
      EXPECT_GE(Cdf({mean}, x), p);
      EXPECT_LT(Cdf({mean}, x - 1), p);
    }
}

TEST(CountLaws, NegativeBinomialShares) {  // R 4.2.2 pnbinom
  EXPECT_NEAR(Cdf({3, 1}, 6), .866516113281, 1e-11);
  EXPECT_NEAR(Cdf({3, 10}, 6), .945483943919, 1e-11);
  EXPECT_NEAR(Cdf({20, 5}, 40), .961764001700, 1e-11);
  EXPECT_NEAR(Cdf({84, 100}, 168), .999999992414, 1e-11);
  EXPECT_NEAR(Probability({3, 1}, 0), .25, 1e-14);
  EXPECT_NEAR(Probability({3, 10}, 0), .0725381502864, 1e-12);
  EXPECT_NEAR(Probability({20, 5}, 0), .00032, 1e-14);
}

TEST(CountLaws, SharesAndTailsSumToOne) {
  for (const CountLaw& law : {CountLaw{.01}, CountLaw{84}, CountLaw{3, 1}, CountLaw{500, 2},
                              CountLaw{84, 1e5}, CountLaw{84, 1e16}, CountLaw{1e5}}) {
    for (double x : {0.0, .5, 1.0, 1.4}) {
      const int64_t k = static_cast<int64_t>(x * law.mean);
      EXPECT_NEAR(Cdf(law, k) + Tail(law, k), 1, 1e-12);
      EXPECT_NEAR(Cdf(law, k) - Cdf(law, k - 1), Probability(law, k), 1e-11);
    }
    EXPECT_EQ(Cdf(law, -1), 0);
    EXPECT_EQ(Tail(law, -1), 1);
  }
}

TEST(CountLaws, ExtremesGiveNumbers) {
  EXPECT_EQ(Quantile({0}, .99), 0);
  EXPECT_EQ(Quantile({-3}, .99), 0);
  EXPECT_EQ(Quantile({5}, 0), 0);
  EXPECT_GT(Quantile({5}, 1), 20);
  EXPECT_EQ(Probability({0}, 0), 1);
  EXPECT_EQ(Cdf({0, 1}, 0), 1);
  EXPECT_NEAR(LogProbability({1e4}, 100), 100 * std::log(1e4) - 1e4 - LogGamma(101), 1e-6);
  EXPECT_LT(LogProbability({1e4, 1e5}, 0), -9000);
  EXPECT_TRUE(std::isfinite(LogProbability({1e4, 1e5}, 0)));
  // A huge size is the Poisson law instead of lost digits.
  EXPECT_EQ(Cdf({84, 1e16}, 84), Cdf({84, kInfinity}, 84));
  EXPECT_NEAR(static_cast<double>(Quantile({1e12}, .5)), 1e12, 1e3);  // sd 1e6
}

TEST(CountLaws, MomentsGiveTheLawBack) {
  const CountLaw law = CountLawOfMoments(20, 100);
  EXPECT_NEAR(law.size, 5, 1e-12);
  EXPECT_NEAR(Variance(law), 100, 1e-9);
  EXPECT_EQ(CountLawOfMoments(20, 12).size, kInfinity);
  EXPECT_EQ(CountLawOfMoments(0, 12).mean, 0);
}

// R 4.2.2: m f(S) + (m - S) P(X > S).
TEST(CountLaws, ExpectedShortage) {
  EXPECT_NEAR(ExpectedShortage({.5}, 1), .1065306597, 1e-10);
  EXPECT_NEAR(ExpectedShortage({.5}, 2), .01632664928, 1e-11);
  EXPECT_NEAR(ExpectedShortage({2}, 1), 1.135335283, 1e-9);
  EXPECT_NEAR(ExpectedShortage({2}, 5), .02248799228, 1e-11);
  EXPECT_NEAR(ExpectedShortage({5}, 5), .8773368488, 1e-10);
  EXPECT_NEAR(ExpectedShortage({10}, 10), 1.251100357, 1e-9);
  EXPECT_NEAR(ExpectedShortage({84}, 90), 1.444812553, 1e-9);
  EXPECT_NEAR(ExpectedShortage({84}, 100), .174316117, 1e-9);
  EXPECT_EQ(ExpectedShortage({84}, 0), 84);
  EXPECT_EQ(ExpectedShortage({0}, 3), 0);
  EXPECT_GT(ExpectedShortage({84}, 220), 0);  // small, and never below 0
}

// The appliance-shop example of a base stock (mean 10): van Foreest, inventory systems, after
// Hopp and Spearman, Factory Physics, 2.4.2.
TEST(CountLaws, BaseStockExampleOfAnApplianceShop) {
  EXPECT_NEAR(Cdf({10}, 14), .916541527065, 1e-12);
  EXPECT_NEAR(Probability({10}, 10), .125110, 1e-6);
  EXPECT_NEAR(Cdf({10}, 10), .583040, 1e-6);
  EXPECT_NEAR(Cdf({10}, 13), .864464, 1e-6);
  EXPECT_NEAR(Cdf({10}, 16), .972958, 1e-6);
  EXPECT_NEAR(ExpectedShortage({10}, 13), .322472730102, 1e-11);
  EXPECT_NEAR(ExpectedShortage({10}, 15), .103478679787, 1e-11);
  EXPECT_EQ(Quantile({10}, 25.0 / 40), 11);
}

// Horse-kick deaths (Bortkiewicz): counts that scatter as Poisson counts do. Mites on leaves (Bliss
// and Fisher 1953): size by greatest likelihood, R 4.2.2.
TEST(CountLaws, SizeOfMitesOnLeavesAndOfHorseKicks) {
  const auto spread = [](const std::vector<int>& times) {
    std::vector<double> counts;
    for (size_t k = 0; k < times.size(); ++k)
      counts.insert(counts.end(), static_cast<size_t>(times[k]), static_cast<double>(k));
    return counts;
  };
  const std::vector<double> mites = spread({70, 38, 17, 10, 9, 3, 2, 1});
  ASSERT_EQ(mites.size(), 150u);
  EXPECT_NEAR(FitSize(mites, std::vector<double>(150, 1.14666666667)), 1.02459315, 1e-5);
  const std::vector<double> kicks = spread({109, 65, 22, 3, 1});
  EXPECT_GT(FitSize(kicks, std::vector<double>(200, .61)), 50);
  EXPECT_NEAR(200 * Probability({.61}, 0), 108.670173816, 1e-8);
  EXPECT_NEAR(200 * Probability({.61}, 3), 4.11101078711, 1e-9);
  EXPECT_EQ(FitSize({}, {}), kInfinity);
  EXPECT_EQ(FitSize({2, 2, 2, 2}, {2, 2, 2, 2}), kInfinity);
}

TEST(NormalLaw, QuantilesInvertShares) {  // R 4.2.2 qnorm
  EXPECT_NEAR(NormalQuantile(.975), 1.95996398454005, 1e-13);
  EXPECT_NEAR(NormalQuantile(.99), 2.32634787404084, 1e-13);
  EXPECT_NEAR(NormalQuantile(1e-10), -6.36134090240406, 1e-11);
  EXPECT_EQ(NormalQuantile(.5), 0);
  EXPECT_TRUE(std::isfinite(NormalQuantile(0)));
  EXPECT_TRUE(std::isfinite(NormalQuantile(1)));
}

// Chi-square factors of the mean-time-between-failures bounds, NIST/SEMATECH e-Handbook 8.4.5.1:
// 800 hours with 2 failures, 90 % two-sided.
TEST(GammaLaw, BoundsOnMeanTimeBetweenFailures) {
  const auto factor = [](double r, double p, double more) {
    return 2 * r / GammaQuantile(p, r + more, 2);
  };
  EXPECT_NEAR(factor(2, .95, 1), .3176724, 1e-7);
  EXPECT_NEAR(factor(2, .05, 0), 5.628072, 1e-6);
  EXPECT_NEAR(400 * factor(2, .95, 1), 127.069, 1e-3);
  EXPECT_NEAR(factor(1, .975, 1), .1794803, 1e-7);
  EXPECT_NEAR(factor(10, .1, 0), 1.607380, 1e-6);
}

TEST(GammaLaw, SlicesKeepTheMeanAndMostOfTheSpread) {
  const std::vector<double> slices = GammaSlices(84, .1, 40);
  double sum = 0, squares = 0;
  for (double s : slices) sum += s, squares += s * s;
  EXPECT_NEAR(sum / 40, 84, 1e-8);
  EXPECT_NEAR(std::sqrt(squares / 40 - 84 * 84), 8.4, .15);
  for (double s : GammaSlices(5, 0, 3)) EXPECT_EQ(s, 5);
}

TEST(GammaLaw, PolygammaValues) {  // Abramowitz and Stegun 6.3.2, 6.4.2
  EXPECT_NEAR(Digamma(1), -.57721566490153286, 1e-14);
  EXPECT_NEAR(Trigamma(1), 1.6449340668482264, 1e-14);
  EXPECT_NEAR(LogGamma(.5), .57236494292470009, 1e-14);
}

TEST(FisherLaw, TailsOfTheTable) {  // R 4.2.2, pf(f, a, b, lower.tail = FALSE)
  EXPECT_NEAR(FisherTail(2.866081402016, 4, 20), .05, 1e-9);
  EXPECT_NEAR(FisherTail(1, 5, 5), .5, 1e-12);
  EXPECT_EQ(FisherTail(0, 4, 20), 1);
}

}  // namespace
}  // namespace ferrule::plan
