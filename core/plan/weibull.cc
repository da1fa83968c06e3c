#include "core/plan/weibull.h"

#include <algorithm>
#include <cmath>

#include "absl/status/status.h"
#include "absl/strings/str_cat.h"
#include "core/plan/distributions.h"
#include "core/plan/optimum.h"

namespace ferrule::plan {

double Weibull::Survival(double time) const {
  return time > 0 ? std::exp(-std::pow(time / scale, shape)) : 1;
}

double Weibull::Mean() const { return scale * std::exp(LogGamma(1 + 1 / shape)); }

double Weibull::StandardDeviation() const {
  const double mean = Mean();
  return std::sqrt(std::max(0.0, scale * scale * std::exp(LogGamma(1 + 2 / shape)) - mean * mean));
}

absl::StatusOr<Weibull> FitWeibull(const std::vector<Stay>& stays) {
  double ended = 0, log_sum = 0, first = 0;
  bool spread = false;
  for (const Stay& s : stays) {
    if (!std::isfinite(s.exit) || !(s.exit > s.entry) || !(s.entry >= 0))
      return absl::InvalidArgumentError(
          absl::StrCat("a time of ", s.exit, " is not above ", s.entry, ": correct its dates"));
    if (!s.ended) continue;
    if (ended > 0 && s.exit != first) spread = true;
    if (ended == 0) first = s.exit;
    ended += 1;
    log_sum += std::log(s.exit);
  }
  if (ended < 2 || !spread)
    return absl::FailedPreconditionError(
        "fewer than two different times have ended: use the pooled curve until more are known");
  // For a given shape the best scale is known, so only the shape is searched. Times are taken
  // relative to their geometric mean so that no power overflows.
  const double centre = std::exp(log_sum / ended);
  const auto power_sum = [&](double shape) {
    double sum = 0;
    for (const Stay& s : stays)
      sum += std::pow(s.exit / centre, shape) -
             (s.entry > 0 ? std::pow(s.entry / centre, shape) : 0.0);
    return sum;
  };
  const auto log_likelihood = [&](double shape) {
    return ended * std::log(shape) - ended * std::log(power_sum(shape) / ended) - ended - log_sum;
  };
  Weibull fit;
  fit.shape = std::exp(
      MinimiseOnInterval([&](double log_shape) { return -log_likelihood(std::exp(log_shape)); },
                         std::log(0.01), std::log(100.0)));
  fit.scale = centre * std::pow(power_sum(fit.shape) / ended, 1 / fit.shape);
  fit.log_likelihood = log_likelihood(fit.shape);
  return fit;
}

}  // namespace ferrule::plan
