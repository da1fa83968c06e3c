#include "core/plan/forecast.h"

#include <algorithm>
#include <cmath>

#include "core/plan/distributions.h"

namespace ferrule::plan {

bool IsCount(const Series& series) {
  for (double y : series.values)
    if (y < 0 || y != std::floor(y)) return false;
  return true;
}

bool IsNonNegative(const Series& series) {
  return std::all_of(series.values.begin(), series.values.end(), [](double y) { return y >= 0; });
}

SeriesForecast NormalForecast(const std::vector<double>& means, const std::vector<double>& sds,
                              bool non_negative) {
  SeriesForecast result;
  for (size_t h = 0; h < means.size(); ++h) {
    StepForecast step;
    step.mean = non_negative ? std::max(0.0, means[h]) : means[h];
    step.variance = sds[h] * sds[h];
    for (size_t q = 0; q < kLevels.size(); ++q) {
      const double x = means[h] + sds[h] * NormalQuantile(kLevels[q]);
      step.quantiles[q] = non_negative ? std::max(0.0, x) : x;
    }
    result.steps.push_back(step);
  }
  return result;
}

SeriesForecast CountForecast(const std::vector<double>& means,
                             const std::vector<double>& variances) {
  SeriesForecast result;
  for (size_t h = 0; h < means.size(); ++h) {
    const CountLaw law = CountLawOfMoments(means[h], variances[h]);
    StepForecast step;
    step.mean = law.mean;
    step.variance = Variance(law);
    for (size_t q = 0; q < kLevels.size(); ++q)
      step.quantiles[q] = static_cast<double>(Quantile(law, kLevels[q]));
    result.steps.push_back(step);
  }
  return result;
}

SeriesForecast PathForecast(const std::vector<std::vector<double>>& paths, bool non_negative) {
  SeriesForecast result;
  if (paths.empty()) return result;
  std::vector<double> at(paths.size());
  for (size_t h = 0; h < paths[0].size(); ++h) {
    StepForecast step;
    double sum = 0, squares = 0;
    for (size_t p = 0; p < paths.size(); ++p) {
      at[p] = non_negative ? std::max(0.0, paths[p][h]) : paths[p][h];
      sum += at[p], squares += at[p] * at[p];
    }
    std::sort(at.begin(), at.end());
    step.mean = sum / static_cast<double>(at.size());
    step.variance = std::max(0.0, squares / static_cast<double>(at.size()) - step.mean * step.mean);
    for (size_t q = 0; q < kLevels.size(); ++q) {
      const double place = kLevels[q] * static_cast<double>(at.size() - 1);
      const size_t i = static_cast<size_t>(place);
      const double part = place - static_cast<double>(i);
      step.quantiles[q] = at[i] + (i + 1 < at.size() ? part * (at[i + 1] - at[i]) : 0);
    }
    result.steps.push_back(step);
  }
  return result;
}

SeriesForecast Combine(const std::vector<const SeriesForecast*>& parts,
                       const std::vector<double>& weights, bool counts) {
  SeriesForecast result;
  double total = 0;
  for (double w : weights) total += w;
  if (parts.empty() || !(total > 0)) return result;
  result.steps.resize(parts[0]->steps.size());
  for (size_t i = 0; i < parts.size(); ++i) {
    const double w = weights[i] / total;
    for (size_t h = 0; h < result.steps.size(); ++h) {
      result.steps[h].mean += w * parts[i]->steps[h].mean;
      // Until squared below: quantiles averaged are those of the mean spread.
      result.steps[h].variance += w * std::sqrt(parts[i]->steps[h].variance);
      for (size_t q = 0; q < kLevels.size(); ++q)
        result.steps[h].quantiles[q] += w * parts[i]->steps[h].quantiles[q];
    }
  }
  for (StepForecast& step : result.steps) {
    step.variance *= step.variance;
    for (double& x : step.quantiles)
      if (counts) x = std::floor(x + .5);
  }
  return result;
}

}  // namespace ferrule::plan
