#include "core/reliability/growth.h"

#include <algorithm>
#include <cmath>

#include "core/reliability/mtbf.h"

namespace ferrule::reliability {

std::optional<double> DuaneSlope(const std::vector<double>& failure_hours) {
  const auto n = static_cast<double>(failure_hours.size());
  if (failure_hours.size() < 2) return std::nullopt;
  double sum_x = 0;
  double sum_y = 0;
  std::vector<std::pair<double, double>> points;
  for (size_t i = 0; i < failure_hours.size(); ++i) {
    const double x = std::log(failure_hours[i]);
    const double y = std::log(failure_hours[i] / static_cast<double>(i + 1));
    points.emplace_back(x, y);
    sum_x += x;
    sum_y += y;
  }
  double xx = 0;
  double xy = 0;
  for (const auto& [x, y] : points) {
    xx += (x - sum_x / n) * (x - sum_x / n);
    xy += (x - sum_x / n) * (y - sum_y / n);
  }
  if (xx <= 0) return std::nullopt;
  return xy / xx;
}

std::optional<PowerLaw> FitPowerLaw(const std::vector<double>& failure_hours, double end_hours) {
  const auto n = static_cast<double>(failure_hours.size());
  if (failure_hours.size() < 2) return std::nullopt;
  double sum = 0;
  for (double t : failure_hours) sum += std::log(end_hours / t);
  if (!(sum > 0)) return std::nullopt;
  PowerLaw law;
  law.b = n / sum;
  law.b_unbiased = (n - 1) / sum;
  law.lambda = n / std::pow(end_hours, law.b);
  law.growth_slope = 1 - law.b_unbiased;
  law.mtbf_at_end = end_hours / (n * law.b_unbiased);
  law.mtbf_at_end_ml = end_hours / (n * law.b);
  law.trend = 2 * sum;
  law.degrees_of_freedom = 2 * static_cast<int>(failure_hours.size());
  const double below = ChiSquareCdf(law.trend, law.degrees_of_freedom);
  law.improving_probability = 1 - below;
  law.trend_probability = std::min(1.0, 2 * std::min(below, 1 - below));
  return law;
}

}  // namespace ferrule::reliability
