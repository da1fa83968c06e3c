#include "core/reliability/control.h"

#include <algorithm>
#include <cmath>
#include <numeric>

namespace ferrule::reliability {
namespace {

// Mean range of two normal readings, in standard deviations: 2 / sqrt(pi) = 1.128.
constexpr double kD2 = 1.128;

}  // namespace

std::optional<ControlLimits> IndividualLimits(const std::vector<double>& readings) {
  if (readings.size() < 2) return std::nullopt;
  const auto n = static_cast<double>(readings.size());
  ControlLimits limits;
  limits.center = std::accumulate(readings.begin(), readings.end(), 0.0) / n;
  double ranges = 0;
  for (size_t i = 1; i < readings.size(); ++i) ranges += std::abs(readings[i] - readings[i - 1]);
  limits.sigma = ranges / (n - 1) / kD2;
  limits.low = limits.center - 3 * limits.sigma;
  limits.high = limits.center + 3 * limits.sigma;
  return limits;
}

std::vector<double> Smooth(const std::vector<double>& readings, double start, double weight) {
  std::vector<double> smoothed = {start};
  for (double x : readings) smoothed.push_back(weight * x + (1 - weight) * smoothed.back());
  return smoothed;
}

ControlLimits SmoothLimits(double center, double sigma, double weight) {
  const double width = 3 * sigma * std::sqrt(weight / (2 - weight));
  return {center, center - width, center + width, sigma};
}

std::optional<Drift> WatchDrift(const std::vector<double>& readings, size_t base) {
  base = std::max<size_t>(base, 2);
  if (readings.size() <= base) return std::nullopt;
  const auto limits = IndividualLimits({readings.begin(), readings.begin() + base});
  if (!limits || !(limits->sigma > 0)) return std::nullopt;
  Drift drift;
  drift.limits = *limits;
  drift.smoothed = Smooth(readings, limits->center, kWeight);
  drift.smoothed.erase(drift.smoothed.begin());
  const auto leaves = [](double x, const ControlLimits& l) { return x < l.low || x > l.high; };
  drift.outside = leaves(readings.back(), *limits);
  drift.wandering =
      leaves(drift.smoothed.back(), SmoothLimits(limits->center, limits->sigma, kWeight));
  return drift;
}

}  // namespace ferrule::reliability
