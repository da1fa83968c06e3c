// Forecasts of a whole and of its parts made to add up: the least-squares answer with the errors'
// covariance as weight, y - W C'(C W C')^-1 C y (Wickramasuriya, Athanasopoulos and Hyndman 2019).
#pragma once

#include <cstddef>
#include <vector>

namespace ferrule::plan {

// One sum: series `whole` is the sum of `parts`.
struct SumRule {
  size_t whole = 0;
  std::vector<size_t> parts;
};

// `covariance` of the base forecasts' errors, row by row, order forecasts.size(), positive
// semidefinite. A rule that follows from others changes nothing. Rules that name no series are left
// out; without rules the forecasts come back as they are.
std::vector<double> Reconcile(const std::vector<double>& forecasts,
                              const std::vector<SumRule>& rules,
                              const std::vector<double>& covariance);

// Covariance of residual series shrunk towards its diagonal (Schaefer and Strimmer 2005): lambda
// in [0, 1] out of the data. residuals[series][t], uncentred, all of one length >= 2.
struct ShrunkCovariance {
  double lambda = 1;
  std::vector<double> covariance;
};
ShrunkCovariance ShrinkCovariance(const std::vector<std::vector<double>>& residuals);

}  // namespace ferrule::plan
