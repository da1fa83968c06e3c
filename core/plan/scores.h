// How good forecasts were: pinball loss, scaled errors, ranked probability score, coverage and
// the probability integral transform for counts.
#pragma once

#include <vector>

#include "core/plan/forecast.h"
#include "core/plan/pmf.h"

namespace ferrule::plan {

double PinballLoss(double y, double quantile, double p);
// Mean over kLevels.
double PinballLoss(double y, const StepForecast& step);
// Mean |y(t) - y(t-lag)|: the scale of MASE and of the scaled pinball loss; 0 when it cannot be
// told, and then nothing is scored.
double NaiveScale(const std::vector<double>& values, int lag);

// MASE: mean absolute error over the scale. WAPE: sum of absolute errors over the sum of values.
// Negative when the divisor is 0. Same lengths.
double ScaledError(const std::vector<double>& actual, const std::vector<double>& forecast,
                   double scale);
double WeightedPercentageError(const std::vector<double>& actual,
                               const std::vector<double>& forecast);

// Sum over k of (F(k) - 1[y <= k])^2.
double RankedProbabilityScore(const CountLaw& law, int64_t y);
double RankedProbabilityScore(const Pmf& pmf, int64_t y);
double LogScore(const CountLaw& law, int64_t y);  // -log P(y)

// The non-randomised transform of counts (Czado, Gneiting and Held 2009): per observation F(y - 1)
// and F(y). Heights of `bins` equal bins, summing to 1.
struct TransformPair {
  double below = 0;
  double upto = 1;
};
std::vector<double> TransformHistogram(const std::vector<TransformPair>& pairs, int bins);
// Mean share of each count's range of the transform that lies within [low, high]: the coverage of
// the central bounds, high - low when the forecasts are honest. Whether whole counts fall within
// bounds says more than that: at few units the count at a bound holds much of the weight. 0 without
// observations.
double ShareWithin(const std::vector<TransformPair>& pairs, double low, double high);
// Pearson's test of a level histogram: P(bins at least as uneven | the forecasts are honest and the
// observations independent), chi-square with bins - 1 degrees of freedom. Spreading each count over
// its own range evens the bins, so the test is mild for small counts. 1 without observations.
double FlatnessProbability(const std::vector<TransformPair>& pairs, int bins);

// Whether histograms of the transform are level in the mean over branches that have nothing to do
// with each other, however much the forecasts of one branch depend on each other (days ahead,
// origins, classes). Hotelling's one-sample test on the shares of all bins but the last, each
// branch one observation: F = (n - b) / (b (n - 1)) n d' C^-1 d with b = bins - 1 and n - b degrees
// of freedom, d the mean difference from even shares, C the covariance between branches. It takes
// the shares of a branch, which are means over many forecasts, for normal.
struct LevelTest {
  std::vector<double> mean;  // share of each bin
  double f = 0;
  int numerator = 0, denominator = 0;  // degrees of freedom
  double probability = 1;  // of an F at least as large when all forecasts are honest; 1 when there
                           // are too few branches to tell
};
LevelTest TestLevel(const std::vector<std::vector<double>>& histograms);

}  // namespace ferrule::plan
