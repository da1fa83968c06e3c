#include "core/plan/pmf.h"

#include <gtest/gtest.h>

#include <cmath>
#include <numeric>

namespace ferrule::plan {
namespace {

double Sum(const Pmf& pmf) { return std::accumulate(pmf.weight.begin(), pmf.weight.end(), 0.0); }

TEST(Pmf, PoissonBinomialOfThreeAndFiveTrials) {  // by hand: all outcomes summed
  const Pmf three = PoissonBinomial({.9, .5, .1});
  const double want[] = {.045, .455, .455, .045};
  for (size_t i = 0; i < 4; ++i) EXPECT_NEAR(three.weight[i], want[i], 1e-15);
  const Pmf five = PoissonBinomial({.95, .9, .8, .6, .3});
  const double more[] = {.00028, .00950, .09670, .35010, .42030, .12312};
  for (size_t i = 0; i < 6; ++i) EXPECT_NEAR(five.weight[i], more[i], 1e-14);
}

TEST(Pmf, SureAndImpossibleTrialsShiftAndVanish) {
  const Pmf pmf = PoissonBinomial({1, 1, 0, -1, 2, .5, std::nan("")});
  EXPECT_EQ(pmf.first, 3);
  EXPECT_EQ(pmf.weight.size(), 2u);
  EXPECT_EQ(PoissonBinomial({}).weight.size(), 1u);
}

TEST(Pmf, CountLawsAreKeptToTheirTails) {
  for (const CountLaw& law :
       {CountLaw{0}, CountLaw{.2}, CountLaw{84}, CountLaw{84, 100}, CountLaw{3, 1}, CountLaw{900},
        CountLaw{5000, 20}, CountLaw{2, .01}}) {
    const Pmf pmf = PmfOf(law);
    EXPECT_NEAR(Sum(pmf), 1, 1e-12);
    EXPECT_NEAR(Mean(pmf), law.mean, 1e-9 * (1 + law.mean));
    EXPECT_NEAR(Variance(pmf) / std::max(Variance(law), 1e-300), law.mean > 0 ? 1 : 0, 1e-8);
    if (law.mean == 0) continue;
    for (double p : {.025, .1, .5, .9, .99}) EXPECT_EQ(Quantile(pmf, p), Quantile(law, p));
  }
}

TEST(Pmf, ConvolutionOfPoissonLawsIsPoisson) {
  const Pmf sum = Convolve(PmfOf({30}), PmfOf({54}));
  EXPECT_NEAR(Sum(sum), 1, 1e-12);
  for (int64_t k : {50, 84, 110}) EXPECT_NEAR(Cdf(sum, k), Cdf(CountLaw{84}, k), 1e-12);
  EXPECT_NEAR(Tail(sum, 100), .0389188250154, 1e-12);  // R 4.2.2 ppois
  EXPECT_NEAR(ExpectedShortage(sum, 100), .174316117, 1e-9);
  EXPECT_NEAR(ExpectedSpare(sum, 100) - ExpectedShortage(sum, 100), 16, 1e-9);
}

TEST(Pmf, AnUncertainLevelGivesTheNegativeBinomial) {
  std::vector<Pmf> parts;
  for (double mean : GammaSlices(84, .1, 400)) parts.push_back(PmfOf({mean}));
  const Pmf mix = Mix(parts, std::vector<double>(parts.size(), 1.0 / 400));
  EXPECT_NEAR(Tail(mix, 100), .0960570632692, 5e-5);  // NB(84, 100), R 4.2.2
  EXPECT_EQ(Quantile(mix, .95), 105);
}

TEST(Pmf, SpreadQuantilesLieAroundTheCounts) {
  const Pmf half = PoissonBinomial({.5});
  EXPECT_NEAR(SpreadQuantile(half, .5), .5, 1e-12);
  EXPECT_NEAR(SpreadQuantile(half, .75), 1, 1e-12);
  EXPECT_EQ(SpreadQuantile(half, .1), 0);  // never below zero
  EXPECT_EQ(SpreadQuantile(Point(7), .5), 7);
  double last = 0;
  const Pmf pmf = PmfOf({5});
  for (double p = .01; p < 1; p += .01) {
    EXPECT_GE(SpreadQuantile(pmf, p), last);
    EXPECT_NEAR(SpreadQuantile(pmf, p), static_cast<double>(Quantile(pmf, p)), .5 + 1e-12);
    last = SpreadQuantile(pmf, p);
  }
}

TEST(Pmf, CentralRangesHoldNearlyTheirShare) {
  const auto held = [](const Pmf& pmf, const CountRange& r) {
    return Cdf(pmf, r.high) - Cdf(pmf, r.low - 1);
  };
  // 0.2, 0.6, 0.2: both quantiles are the outer counts, which would hold everything.
  const Pmf three{0, {.2, .6, .2}};
  const CountRange range = CentralRange(three, .8);
  EXPECT_NEAR(held(three, range), .8, 1e-12);
  // One count with nearly all of the weight holds more; nothing whole is nearer.
  EXPECT_NEAR(held(Point(4), CentralRange(Point(4), .8)), 1, 1e-12);
  for (double mean : {.3, 2.0, 9.0, 84.0}) {
    const Pmf pmf = PmfOf({mean});
    for (double share : {.8, .95}) {
      const CountRange r = CentralRange(pmf, share);
      const double both =
          held(pmf, {Quantile(pmf, (1 - share) / 2), Quantile(pmf, (1 + share) / 2)});
      EXPECT_LE(std::abs(held(pmf, r) - share), std::abs(both - share) + 1e-12) << mean;
      // Quantiles between the counts that hold the same ones.
      const double low = RangeQuantile(pmf, (1 - share) / 2, r),
                   high = RangeQuantile(pmf, (1 + share) / 2, r);
      EXPECT_EQ(std::ceil(low), static_cast<double>(r.low)) << mean;
      EXPECT_EQ(std::floor(high), static_cast<double>(r.high)) << mean;
    }
  }
}

}  // namespace
}  // namespace ferrule::plan
