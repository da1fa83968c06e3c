// Regression of counts with a log link, Poisson or negative binomial, drawn towards prior
// coefficients where the data are thin (ridge).
#pragma once

#include <cstddef>
#include <vector>

#include "absl/status/statusor.h"

namespace ferrule::plan {

// One row per observation, one column per coefficient, row after row.
struct Design {
  size_t columns = 0;
  std::vector<double> values;

  size_t rows() const { return columns == 0 ? 0 : values.size() / columns; }
  const double* Row(size_t i) const { return &values[i * columns]; }
};

struct CountRegression {
  Design design;
  std::vector<double> counts;   // >= 0
  std::vector<double> offset;   // log exposure; empty for none
  std::vector<double> penalty;  // per coefficient, >= 0: prior precision; empty for none
  std::vector<double> prior;    // per coefficient; empty for 0
  std::vector<double> start;    // per coefficient, where to begin; empty: at the overall level
  bool overdispersed = true;    // estimate the size; false: Poisson
};

struct CountFit {
  std::vector<double> coefficients;
  std::vector<double> fitted;  // means
  // Of the coefficients, row by row: the inverse of the penalised information, right as far as the
  // counts scatter as the law says.
  std::vector<double> covariance;
  double size = 0;  // infinite for Poisson
  double deviance = 0;
  double log_likelihood = 0;
  bool converged = false;
};

// Greatest penalised likelihood by reweighted least squares with halved steps. InvalidArgument
// when the parts do not fit together or a count is negative or no number. A column without
// information gets its prior (0), never NaN.
absl::StatusOr<CountFit> FitCounts(const CountRegression& problem);

// exp of the linear predictor of one row, kept inside what a double can hold.
double MeanOfRow(const CountFit& fit, const double* row, double offset);

}  // namespace ferrule::plan
