#include "core/plan/baseline.h"

#include <algorithm>
#include <cmath>

#include "core/plan/distributions.h"
#include "core/plan/smoothing.h"

namespace ferrule::plan {
namespace {

SeriesForecast Nothing(int horizon) {
  // Nothing is known: zero with bounds as wide as one order's law of greatest doubt.
  SeriesForecast forecast = CountForecast(std::vector<double>(static_cast<size_t>(horizon), .5),
                                          std::vector<double>(static_cast<size_t>(horizon), 2));
  forecast.basis = "no history: half an order per step, with wide bounds";
  return forecast;
}

double Correlation(const std::vector<double>& y, size_t lag) {
  double mean = 0, c0 = 0, c = 0;
  for (double v : y) mean += v / static_cast<double>(y.size());
  for (size_t t = 0; t < y.size(); ++t) {
    c0 += (y[t] - mean) * (y[t] - mean);
    if (t >= lag) c += (y[t] - mean) * (y[t - lag] - mean);
  }
  return c0 > 0 ? c / c0 : 0;
}

// Whether the correlation one cycle apart stands out (90 %), given the nearer ones.
bool SeasonStandsOut(const std::vector<double>& y, int season) {
  double sum = 1;
  for (int k = 1; k < season; ++k) {
    const double r = Correlation(y, static_cast<size_t>(k));
    sum += 2 * r * r;
  }
  const double bound = 1.645 * std::sqrt(sum / static_cast<double>(y.size()));
  return std::abs(Correlation(y, static_cast<size_t>(season))) > bound;
}

}  // namespace

std::vector<double> SeasonRatios(const std::vector<double>& y, int season) {
  const size_t m = static_cast<size_t>(std::max(season, 1));
  if (m < 2 || y.size() < 2 * m + 1) return {};
  if (std::any_of(y.begin(), y.end(), [](double v) { return v <= 0; })) return {};
  std::vector<double> sum(m, 0), count(m, 0);
  for (size_t t = m / 2; t + m / 2 < y.size(); ++t) {
    double centre = 0;
    for (size_t k = 0; k < m; ++k) centre += y[t - m / 2 + k];
    if (m % 2 == 0) centre += 0.5 * (y[t + m / 2] - y[t - m / 2]);
    sum[t % m] += y[t] * static_cast<double>(m) / centre;
    count[t % m] += 1;
  }
  double mean = 0;
  for (size_t k = 0; k < m; ++k) {
    sum[k] = count[k] > 0 ? sum[k] / count[k] : 1;
    mean += sum[k] / static_cast<double>(m);
  }
  for (double& r : sum) r /= mean;
  return sum;
}

SeriesForecast ForecastSeasonalNaive(const Series& series, int horizon) {
  const std::vector<double>& y = series.values;
  size_t m = static_cast<size_t>(std::max(series.season, 1));
  if (y.empty()) return Nothing(horizon);
  if (y.size() < m + 1) m = 1;
  double squares = 0, sum = 0;
  for (size_t t = m; t < y.size(); ++t) squares += (y[t] - y[t - m]) * (y[t] - y[t - m]);
  for (double v : y) sum += v;
  const size_t pairs = y.size() - m;
  // Too few pairs to trust their spread: at least that of counts with this mean.
  double variance = pairs > 0 ? squares / static_cast<double>(pairs) : 0;
  if (pairs < 8)
    variance = std::max(variance, 2 * std::abs(sum) / static_cast<double>(y.size()) + 1);
  std::vector<double> means, sds;
  for (int h = 1; h <= horizon; ++h) {
    const size_t back = (static_cast<size_t>(h) - 1) % m;
    means.push_back(y[y.size() - m + back]);
    sds.push_back(std::sqrt(variance * std::ceil(static_cast<double>(h) / static_cast<double>(m))));
  }
  SeriesForecast forecast = NormalForecast(means, sds, IsNonNegative(series));
  forecast.basis = "the value one cycle ago";
  return forecast;
}

SeriesForecast ForecastTheta(const Series& series, int horizon) {
  const size_t n = series.values.size();
  if (n < 4) return ForecastSeasonalNaive(series, horizon);
  std::vector<double> ratios, y = series.values;
  if (series.season > 1 && series.season <= 60 && n > 2 * static_cast<size_t>(series.season) &&
      SeasonStandsOut(y, series.season))
    ratios = SeasonRatios(y, series.season);
  for (size_t t = 0; !ratios.empty() && t < n; ++t) y[t] /= ratios[t % ratios.size()];
  const SmoothingFit fit = FitSmoothing({}, y, Criterion::kSquares);
  if (!fit.usable) return ForecastSeasonalNaive(series, horizon);
  double sx = 0, sy = 0, sxx = 0, sxy = 0;
  for (size_t t = 0; t < n; ++t) {
    const double x = static_cast<double>(t);
    sx += x, sy += y[t], sxx += x * x, sxy += x * y[t];
  }
  const double d = static_cast<double>(n), drift = .5 * (d * sxy - sx * sy) / (d * sxx - sx * sx);
  const double alpha = fit.now.alpha, reach = (1 - std::pow(1 - alpha, d)) / alpha;
  std::vector<double> means, sds;
  for (int h = 1; h <= horizon; ++h) {
    const double ratio =
        ratios.empty() ? 1 : ratios[(n + static_cast<size_t>(h) - 1) % ratios.size()];
    means.push_back(ratio * (fit.now.level + drift * (h - 1 + reach)));
    sds.push_back(ratio * fit.sigma * std::sqrt((h - 1) * alpha * alpha + 1));
  }
  SeriesForecast forecast = NormalForecast(means, sds, IsNonNegative(series));
  forecast.basis = "theta";
  return forecast;
}

}  // namespace ferrule::plan
