// How long units stay out: the product-limit curve with units seen only from some age on, ties
// (a return comes before a censoring on the same day) and a tail beyond the last return.
#pragma once

#include <cstdint>
#include <vector>

#include "absl/status/statusor.h"

namespace ferrule::plan {

// One stay, in days (or any other unit of time). entry < exit: at risk from just after `entry`;
// 0 when it was followed from its start. ended: it ended at `exit`; else it was still going on.
struct Stay {
  double exit = 0;
  bool ended = true;
  double entry = 0;
};

// The curve at one time at which stays ended.
struct SurvivalStep {
  double time = 0;
  int64_t at_risk = 0;
  int64_t ended = 0;
  double survival = 1;        // share that lasts beyond `time`
  double standard_error = 0;  // Greenwood
  double cumulative_hazard = 0;
};

class SurvivalCurve {
 public:
  const std::vector<SurvivalStep>& steps() const { return steps_; }
  int64_t stays() const { return stays_; }
  int64_t ended() const { return ended_; }

  // Share that lasts beyond `time`; the plain curve, flat beyond its last step.
  double At(double time) const;
  // Share that lasts beyond age + ahead among those that last beyond `age`. Beyond the last step
  // (or when nobody lasted so long) the hazard of the tail goes on, so the answer is never 0.
  double Remaining(double age, double ahead) const;
  // Chance per unit of time of ending, used beyond the last step.
  double tail_hazard() const { return tail_hazard_; }
  // Smallest time at which the survival is <= 1 - p; negative when the curve never comes so low.
  double Quantile(double p) const;
  // Area under the curve up to `limit`, and its standard error.
  double RestrictedMean(double limit) const;
  double RestrictedMeanError(double limit) const;
  // Pointwise limits at `time` on the log(-log) scale, at confidence `level` (say 0.95). Where
  // the curve is 1 or 0 there is no limit and both are the curve itself.
  struct Limits {
    double low = 0;
    double high = 1;
  };
  Limits LimitsAt(double time, double level) const;

 private:
  friend absl::StatusOr<SurvivalCurve> ProductLimit(const std::vector<Stay>& stays);
  const SurvivalStep* StepAt(double time) const;

  std::vector<SurvivalStep> steps_;
  int64_t stays_ = 0;
  int64_t ended_ = 0;
  double tail_hazard_ = 0;
  double last_time_ = 0;
};

// Estimates the curve. Stays in any order; whole days are counted rather than sorted, so the time
// grows with the number of stays alone. InvalidArgument for a stay that is no number, ends before
// it is seen, or begins below 0. No stays at all give the curve 1 with a tail hazard of 1/10 per
// day. Beyond the last step, ending hazard = (ended + 1) / (time at risk + 10) over the last
// quarter of the time at risk: common practice, no source.
absl::StatusOr<SurvivalCurve> ProductLimit(const std::vector<Stay>& stays);

// Whether groups differ in their stays: the log-rank test.
struct LogRank {
  double chi_square = 0;
  int degrees_of_freedom = 0;
  double p_value = 1;
  std::vector<double> observed;  // per group
  std::vector<double> expected;
};
LogRank CompareStays(const std::vector<std::vector<Stay>>& groups);

}  // namespace ferrule::plan
