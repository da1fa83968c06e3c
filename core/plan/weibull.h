// Weibull law of times to failure or return, fitted by greatest likelihood to stays of which some
// still go on: S(t) = exp(-(t / scale)^shape).
#pragma once

#include <vector>

#include "absl/status/statusor.h"
#include "core/plan/survival.h"

namespace ferrule::plan {

struct Weibull {
  double shape = 1;  // above 1: wears out; below 1: fails early
  double scale = 1;  // the time by which 63.2 % have ended
  double log_likelihood = 0;

  double Survival(double time) const;
  double Mean() const;
  double StandardDeviation() const;
};

// FailedPrecondition with fewer than two stays that ended, or when all ended at one time: no
// shape can be told from them; InvalidArgument for times that are not above 0. `entry` is honoured.
absl::StatusOr<Weibull> FitWeibull(const std::vector<Stay>& stays);

}  // namespace ferrule::plan
