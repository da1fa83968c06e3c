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

}  // namespace ferrule::plan
