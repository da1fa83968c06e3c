// Whether failures come further and further apart: Duane's slope and the power law of Crow and
// AMSAA. Times are run hours at the failures, in rising order, each above 0.
#pragma once

#include <optional>
#include <vector>

namespace ferrule::reliability {

// Slope of the cumulative hours between failures over the hours, both as logarithms, by least
// squares; above 0 they grow longer. Absent with fewer than two different times.
std::optional<double> DuaneSlope(const std::vector<double>& failure_hours);

// M(t) = lambda t^b failures by time t (NIST/SEMATECH e-Handbook, sections 8.1.7.2 and 8.1.9).
struct PowerLaw {
  double b = 1;               // greatest likelihood
  double b_unbiased = 1;      // by (n - 1) instead of n
  double lambda = 0;          // with b
  double growth_slope = 0;    // 1 - b_unbiased
  double mtbf_at_end = 0;     // hours, with b_unbiased
  double mtbf_at_end_ml = 0;  // hours, with b
  double trend = 0;           // 2 sum ln(end / t): chi-square on 2n degrees when there is none
  int degrees_of_freedom = 0;
  double improving_probability = 1;  // chance of so strong a growth without any
  double trend_probability = 1;      // of so strong a trend either way
};
// Observed from 0 to `end_hours`, which is at or after the last failure. Absent with fewer than two
// failures or when all lie at the end.
std::optional<PowerLaw> FitPowerLaw(const std::vector<double>& failure_hours, double end_hours);

}  // namespace ferrule::reliability
