// Hours between failures with their bounds, against published factors.
//
// Source: NIST/SEMATECH e-Handbook of Statistical Methods, section 8.4.5.1 (formulas read there;
// the example's 800 h and 2 failures from memory; factors recomputed with R 4.2.2, qchisq).
#include "core/reliability/mtbf.h"

#include <gtest/gtest.h>

namespace ferrule::reliability {
namespace {

TEST(Mtbf, OfTwoFailuresInEightHundredHours) {
  const Mtbf mtbf = BoundMtbf(800, 2, 0.9);
  EXPECT_DOUBLE_EQ(*mtbf.mean, 400);
  EXPECT_NEAR(mtbf.low, 127.069, 1e-3);
  EXPECT_NEAR(*mtbf.high, 2251.229, 1e-3);
}

struct Factors {
  int failures;
  double confidence;
  double low;
  double high;
};

TEST(Mtbf, FactorsAreThoseOfTheTable) {
  for (const Factors& f : {
           Factors{1, 0.60, 0.3339669, 4.481420},
           Factors{1, 0.80, 0.2570879, 9.491222},
           Factors{1, 0.90, 0.2107986, 19.49573},
           Factors{1, 0.95, 0.1794803, 39.49789},
           Factors{2, 0.60, 0.4673957, 2.426041},
           Factors{2, 0.80, 0.3757760, 3.760730},
           Factors{2, 0.90, 0.3176724, 5.628072},
           Factors{2, 0.95, 0.2768286, 8.257322},
           Factors{5, 0.60, 0.6324316, 1.618364},
           Factors{5, 0.80, 0.5391025, 2.055422},
           Factors{5, 0.90, 0.4756001, 2.537878},
           Factors{5, 0.95, 0.4285103, 3.079792},
           Factors{10, 0.60, 0.7325617, 1.371889},
           Factors{10, 0.80, 0.6490707, 1.607380},
           Factors{10, 0.90, 0.5895455, 1.843180},
           Factors{10, 0.95, 0.5437633, 2.085337},
       }) {
    const Mtbf mtbf = BoundMtbf(f.failures, f.failures, f.confidence);  // a mean of 1
    EXPECT_NEAR(mtbf.low, f.low, 1e-7) << f.failures << " " << f.confidence;
    EXPECT_NEAR(*mtbf.high / f.high, 1, 1e-6) << f.failures << " " << f.confidence;
  }
}

TEST(Mtbf, WithoutAFailureHasALowerBoundOnly) {
  const double kLow[] = {1091.357, 621.335, 434.294, 333.808};
  const double kConfidence[] = {0.60, 0.80, 0.90, 0.95};
  for (int i = 0; i < 4; ++i) {
    const Mtbf mtbf = BoundMtbf(1000, 0, kConfidence[i]);
    EXPECT_NEAR(mtbf.low, kLow[i], 1e-3);
    EXPECT_FALSE(mtbf.mean.has_value());
    EXPECT_FALSE(mtbf.high.has_value());
  }
}

TEST(ChiSquare, QuantileIsTheInverseOfTheLaw) {
  for (double p : {0.01, 0.5, 0.99}) {
    EXPECT_NEAR(ChiSquareCdf(ChiSquareQuantile(p, 7), 7), p, 1e-12);
  }
}

}  // namespace
}  // namespace ferrule::reliability
