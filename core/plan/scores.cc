#include "core/plan/scores.h"

#include <algorithm>
#include <cmath>

#include "core/plan/distributions.h"
#include "core/plan/symmetric.h"

namespace ferrule::plan {

double PinballLoss(double y, double quantile, double p) {
  return std::max(p * (y - quantile), (p - 1) * (y - quantile));
}

double PinballLoss(double y, const StepForecast& step) {
  double sum = 0;
  for (size_t q = 0; q < kLevels.size(); ++q)
    sum += PinballLoss(y, step.quantiles[q], kLevels[q]) / static_cast<double>(kLevels.size());
  return sum;
}

double NaiveScale(const std::vector<double>& values, int lag) {
  const size_t m = static_cast<size_t>(std::max(lag, 1));
  if (values.size() <= m) return 0;
  double sum = 0;
  for (size_t t = m; t < values.size(); ++t) sum += std::abs(values[t] - values[t - m]);
  return sum / static_cast<double>(values.size() - m);
}

double ScaledError(const std::vector<double>& actual, const std::vector<double>& forecast,
                   double scale) {
  if (!(scale > 0) || actual.empty()) return -1;
  double sum = 0;
  for (size_t i = 0; i < actual.size(); ++i) sum += std::abs(actual[i] - forecast[i]);
  return sum / static_cast<double>(actual.size()) / scale;
}

double WeightedPercentageError(const std::vector<double>& actual,
                               const std::vector<double>& forecast) {
  double errors = 0, sum = 0;
  for (size_t i = 0; i < actual.size(); ++i) {
    errors += std::abs(actual[i] - forecast[i]);
    sum += std::abs(actual[i]);
  }
  return sum > 0 ? errors / sum : -1;
}

double RankedProbabilityScore(const Pmf& pmf, int64_t y) {
  double score = 0, f = 0;
  const int64_t last = pmf.first + static_cast<int64_t>(pmf.weight.size()) - 1;
  // Outside the kept range each count between it and y adds exactly 1.
  if (y < pmf.first) score += static_cast<double>(pmf.first - y);
  if (y > last + 1) score += static_cast<double>(y - last - 1);
  for (int64_t k = pmf.first; k <= last; ++k) {
    f += pmf.weight[static_cast<size_t>(k - pmf.first)];
    const double d = f - (y <= k ? 1 : 0);
    score += d * d;
  }
  return score;
}

double RankedProbabilityScore(const CountLaw& law, int64_t y) {
  return RankedProbabilityScore(PmfOf(law), y);
}

double LogScore(const CountLaw& law, int64_t y) { return -LogProbability(law, y); }

std::vector<double> TransformHistogram(const std::vector<TransformPair>& pairs, int bins) {
  std::vector<double> heights(static_cast<size_t>(bins), 0);
  if (pairs.empty()) return heights;
  const auto share = [&](double u) {
    double sum = 0;
    for (const TransformPair& p : pairs)
      sum += p.upto > p.below ? std::clamp((u - p.below) / (p.upto - p.below), 0.0, 1.0)
                              : (u >= p.upto ? 1.0 : 0.0);
    return sum / static_cast<double>(pairs.size());
  };
  double before = 0;
  for (int b = 0; b < bins; ++b) {
    const double upto = b + 1 == bins ? 1 : share((b + 1.0) / bins);
    heights[static_cast<size_t>(b)] = upto - before;
    before = upto;
  }
  return heights;
}

double ShareWithin(const std::vector<TransformPair>& pairs, double low, double high) {
  double sum = 0;
  for (const TransformPair& pair : pairs) {
    const double range = pair.upto - pair.below;
    if (range > 0)
      sum += std::max(0.0, std::min(high, pair.upto) - std::max(low, pair.below)) / range;
    else
      sum += pair.upto >= low && pair.upto <= high ? 1 : 0;
  }
  return pairs.empty() ? 0 : sum / static_cast<double>(pairs.size());
}

double FlatnessProbability(const std::vector<TransformPair>& pairs, int bins) {
  if (pairs.empty() || bins < 2) return 1;
  const double n = static_cast<double>(pairs.size()), even = 1.0 / bins;
  double chi_square = 0;
  for (double height : TransformHistogram(pairs, bins))
    chi_square += n * (height - even) * (height - even) / even;
  return 1 - GammaCdf(chi_square, .5 * (bins - 1), 2);
}

LevelTest TestLevel(const std::vector<std::vector<double>>& histograms) {
  LevelTest test;
  const size_t n = histograms.size(), bins = n > 0 ? histograms[0].size() : 0;
  test.mean.assign(bins, 0);
  for (const std::vector<double>& one : histograms)
    for (size_t b = 0; b < bins; ++b) test.mean[b] += one[b] / static_cast<double>(n);
  if (bins < 2 || n <= bins) return test;
  const size_t k = bins - 1;
  Symmetric covariance(k);
  for (const std::vector<double>& one : histograms)
    for (size_t i = 0; i < k; ++i)
      for (size_t j = 0; j <= i; ++j)
        covariance.At(i, j) +=
            (one[i] - test.mean[i]) * (one[j] - test.mean[j]) / static_cast<double>(n - 1);
  std::vector<double> away(k);
  for (size_t i = 0; i < k; ++i) away[i] = test.mean[i] - 1 / static_cast<double>(bins);
  const std::vector<double> solved = covariance.Solve(away);
  double square = 0;
  for (size_t i = 0; i < k; ++i) square += static_cast<double>(n) * away[i] * solved[i];
  test.numerator = static_cast<int>(k);
  test.denominator = static_cast<int>(n - k);
  test.f = square * static_cast<double>(n - k) / static_cast<double>(k * (n - 1));
  test.probability = FisherTail(test.f, test.numerator, test.denominator);
  return test;
}

}  // namespace ferrule::plan
