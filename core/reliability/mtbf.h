// Hours between failures with their bounds, for failures at a constant rate.
#pragma once

#include <cstdint>
#include <optional>

namespace ferrule::reliability {

struct Mtbf {
  std::optional<double> mean;  // hours / failures; absent when nothing failed
  double low = 0;
  std::optional<double> high;  // absent when nothing failed
};

// hours > 0, failures >= 0, confidence above 0 and below 1; 0.9 leaves 5 % on either side. Without
// a failure the lower bound is one-sided at that confidence. The count is cut off by time.
// NIST/SEMATECH e-Handbook of Statistical Methods, section 8.4.5.1:
//   low = 2T / chi2(1 - a/2; 2(r + 1)), high = 2T / chi2(a/2; 2r); r = 0: low = T / (-ln a).
Mtbf BoundMtbf(double hours, int64_t failures, double confidence);

// Chi-square: P(X <= x), and the x at which it is p.
double ChiSquareCdf(double x, double degrees_of_freedom);
double ChiSquareQuantile(double p, double degrees_of_freedom);

}  // namespace ferrule::reliability
