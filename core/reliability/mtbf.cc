#include "core/reliability/mtbf.h"

#include <cmath>

#include "core/plan/distributions.h"

namespace ferrule::reliability {

double ChiSquareCdf(double x, double degrees_of_freedom) {
  return plan::GammaCdf(x, degrees_of_freedom / 2, 2);
}

double ChiSquareQuantile(double p, double degrees_of_freedom) {
  return plan::GammaQuantile(p, degrees_of_freedom / 2, 2);
}

Mtbf BoundMtbf(double hours, int64_t failures, double confidence) {
  const double a = 1 - confidence;
  const auto r = static_cast<double>(failures);
  if (failures == 0) return {std::nullopt, hours / -std::log(a), std::nullopt};
  return {hours / r, 2 * hours / ChiSquareQuantile(1 - a / 2, 2 * (r + 1)),
          2 * hours / ChiSquareQuantile(a / 2, 2 * r)};
}

}  // namespace ferrule::reliability
