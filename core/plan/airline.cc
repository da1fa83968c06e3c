#include "core/plan/airline.h"

#include <algorithm>
#include <array>
#include <cmath>
#include <limits>

#include "core/plan/baseline.h"
#include "core/plan/distributions.h"
#include "core/plan/optimum.h"

namespace ferrule::plan {
namespace {

constexpr double kInfinity = std::numeric_limits<double>::infinity();

// Of the product of the two moving averages: weights at lags 0, 1, season, season + 1.
std::vector<double> Weights(double near, double cycle, size_t season) {
  std::vector<double> c(season + 2, 0);
  c[0] = 1;
  c[1] += near;
  c[season] += cycle;
  c[season + 1] += near * cycle;
  return c;
}

// The differences as innovations and what is expected of each from those before it, by a banded
// factorisation of their covariance (the innovations algorithm).
class Innovations {
 public:
  Innovations(const std::vector<double>& weights, const std::vector<double>& differences)
      : reach_(weights.size() - 1), lagged_(weights.size(), 0) {
    for (size_t i = 0; i < weights.size(); ++i)
      for (size_t j = i; weights[i] != 0 && j < weights.size(); ++j)
        lagged_[j - i] += weights[i] * weights[j];
    for (double w : differences) {
      const double expected = Next(innovations_.size());
      innovations_.push_back(w - expected);
      const double d = spread_.back();
      squares_ += innovations_.back() * innovations_.back() / d;
      log_spread_ += std::log(d);
    }
    seen_ = innovations_.size();
  }

  // The next difference not seen; each call goes one step on.
  double Ahead() {
    const double expected = Next(seen_);
    innovations_.push_back(0);
    return expected;
  }
  double squares() const { return squares_; }
  double log_spread() const { return log_spread_; }

 private:
  // Adds the row of the next difference; returns its expectation from the first `upto` innovations.
  double Next(size_t upto) {
    const size_t t = spread_.size(), first = t > reach_ ? t - reach_ : 0;
    std::vector<double> row(reach_ + 1, 0);  // row[t - k] for the innovation k
    double spread = lagged_[0], expected = 0;
    for (size_t k = first; k < t; ++k) {
      double sum = lagged_[t - k];
      const std::vector<double>& other = rows_[k];
      for (size_t j = std::max(first, k > reach_ ? k - reach_ : 0); j < k; ++j)
        sum -= row[t - j] * other[k - j] * spread_[j];
      row[t - k] = sum / spread_[k];
      spread -= row[t - k] * row[t - k] * spread_[k];
      if (k < upto) expected += row[t - k] * innovations_[k];
    }
    spread_.push_back(std::max(spread, 1e-12));
    rows_.push_back(std::move(row));
    return expected;
  }

  size_t reach_, seen_ = 0;
  std::vector<double> lagged_, innovations_, spread_;
  std::vector<std::vector<double>> rows_;
  double squares_ = 0, log_spread_ = 0;
};

std::vector<double> Scaled(const std::vector<double>& values, bool logs) {
  std::vector<double> z = values;
  if (logs)
    for (double& v : z) v = std::log(v);
  return z;
}

std::vector<double> Differences(const std::vector<double>& z, size_t season) {
  std::vector<double> w;
  for (size_t t = season + 1; t < z.size(); ++t)
    w.push_back(z[t] - z[t - 1] - z[t - season] + z[t - season - 1]);
  return w;
}

// Standard deviations of the errors ahead, over that of one innovation.
std::vector<double> Growth(const std::vector<double>& weights, size_t season, int horizon) {
  std::vector<double> psi, growth;
  double sum = 0;
  for (size_t j = 0; j < static_cast<size_t>(horizon); ++j) {
    double v = j < weights.size() ? weights[j] : 0;
    if (j >= 1) v += psi[j - 1];
    if (j >= season) v += psi[j - season];
    if (j >= season + 1) v -= psi[j - season - 1];
    psi.push_back(v);
    sum += v * v;
    growth.push_back(std::sqrt(sum));
  }
  return growth;
}

}  // namespace

AirlineFit FitAirline(const std::vector<double>& values, int season, bool logs) {
  AirlineFit fit;
  fit.logs = logs;
  const size_t cycle = static_cast<size_t>(std::max(season, 2));
  const auto positive = [](double y) { return y > 0; };
  if (values.size() < cycle + 9 || (logs && !std::all_of(values.begin(), values.end(), positive)))
    return fit;
  const std::vector<double> w = Differences(Scaled(values, logs), cycle);
  const double n = static_cast<double>(w.size());
  const auto deviance = [&](const std::vector<double>& x) {
    if (std::abs(x[0]) >= .999 || std::abs(x[1]) >= .999) return kInfinity;
    const Innovations run(Weights(x[0], x[1], cycle), w);
    if (!(run.squares() > 1e-20)) return kInfinity;
    return n * std::log(run.squares() / n) + run.log_spread();
  };
  const Minimum m = Minimise(deviance, {-.4, -.5}, {.2, .2}, 1e-7, 150);
  if (!std::isfinite(m.value)) return fit;
  fit.near = m.at[0];
  fit.cycle = m.at[1];
  fit.variance = Innovations(Weights(fit.near, fit.cycle, cycle), w).squares() / n;
  fit.deviance = m.value;
  // The density of the amounts: each log divides it by its amount.
  for (size_t t = cycle + 1; logs && t < values.size(); ++t)
    fit.deviance += 2 * std::log(values[t]);
  fit.usable = std::isfinite(fit.deviance) && fit.variance > 0;
  return fit;
}

SeriesForecast ForecastAirline(const Series& series, int horizon) {
  const std::vector<double>& y = series.values;
  AirlineFit fit = FitAirline(y, series.season, false);
  const AirlineFit other = FitAirline(y, series.season, true);
  if (other.usable && !(fit.usable && fit.deviance <= other.deviance)) fit = other;
  if (series.season < 2 || !fit.usable) {
    SeriesForecast plain = ForecastSeasonalNaive(series, horizon);
    plain.basis = "too short for seasonal differences: " + plain.basis;
    return plain;
  }
  const size_t cycle = static_cast<size_t>(series.season);
  std::vector<double> z = Scaled(y, fit.logs);
  const std::vector<double> w = Differences(z, cycle),
                            weights = Weights(fit.near, fit.cycle, cycle);
  const double n = static_cast<double>(w.size());
  const double sigma = std::sqrt(fit.variance * n / (n - 2));
  const std::vector<double> growth = Growth(weights, cycle, horizon);
  Innovations run(weights, w);
  SeriesForecast forecast;
  for (int h = 0; h < horizon; ++h) {
    const size_t t = z.size();
    z.push_back(run.Ahead() + z[t - 1] + z[t - cycle] - z[t - cycle - 1]);
    const double sd = sigma * growth[static_cast<size_t>(h)];
    StepForecast step;
    // A law of logs too wide to have a useful mean gets that of a narrower one.
    step.mean = fit.logs ? std::exp(z[t] + .5 * std::min(sd * sd, 1.0)) : z[t];
    step.variance = fit.logs ? step.mean * step.mean * std::expm1(std::min(sd * sd, 1.0)) : sd * sd;
    for (size_t q = 0; q < kLevels.size(); ++q) {
      const double x = z[t] + sd * NormalQuantile(kLevels[q]);
      step.quantiles[q] = fit.logs ? std::exp(std::min(x, 700.0)) : x;
    }
    if (IsNonNegative(series)) {
      step.mean = std::max(0.0, step.mean);
      for (double& x : step.quantiles) x = std::max(0.0, x);
    }
    forecast.steps.push_back(step);
  }
  forecast.basis = fit.logs ? "seasonal differences of logs" : "seasonal differences";
  return forecast;
}

}  // namespace ferrule::plan
