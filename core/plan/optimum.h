// Minima without derivatives: one unknown by golden section with parabolic steps, several by
// the simplex method. Deterministic.
#pragma once

#include <functional>
#include <vector>

namespace ferrule::plan {

// The place of a minimum of f on [low, high], to about 1e-8 of the interval.
double MinimiseOnInterval(const std::function<double(double)>& f, double low, double high);

struct Minimum {
  std::vector<double> at;
  double value = 0;
  int evaluations = 0;
  bool converged = false;  // false: stopped at the limit of evaluations
};

// A local minimum of f from `start`, first steps `step` (one per unknown, not 0). Values that are
// not finite count as very large, so f may refuse a point by returning infinity or NaN.
Minimum Minimise(const std::function<double(const std::vector<double>&)>& f,
                 const std::vector<double>& start, const std::vector<double>& step,
                 double relative_tolerance, int evaluation_limit);

}  // namespace ferrule::plan
