#include "core/plan/glm.h"

#include <algorithm>
#include <cmath>
#include <limits>

#include "absl/status/status.h"
#include "core/plan/distributions.h"
#include "core/plan/symmetric.h"

namespace ferrule::plan {
namespace {

constexpr double kInfinity = std::numeric_limits<double>::infinity();

double MeanAt(const std::vector<double>& b, const double* row, double offset) {
  double eta = offset;
  for (size_t j = 0; j < b.size(); ++j) eta += row[j] * b[j];
  return std::exp(std::clamp(eta, -20.0, 15.0));
}

double DevianceOf(double y, double mu, double size) {
  const double own = y > 0 ? y * std::log(y / mu) : 0;
  if (!std::isfinite(size)) return 2 * (own - (y - mu));
  return 2 * (own - (y + size) * std::log((y + size) / (mu + size)));
}

absl::Status Check(const CountRegression& p) {
  const size_t n = p.counts.size(), k = p.design.columns;
  if (k == 0 || p.design.values.size() != n * k || (!p.offset.empty() && p.offset.size() != n) ||
      (!p.penalty.empty() && p.penalty.size() != k) || (!p.prior.empty() && p.prior.size() != k) ||
      (!p.start.empty() && p.start.size() != k))
    return absl::InvalidArgumentError(
        "the design, counts, offsets and penalties differ in length: give one row per count and "
        "one penalty per column");
  for (double y : p.counts)
    if (!(y >= 0) || !std::isfinite(y))
      return absl::InvalidArgumentError("a count is negative or no number: leave that day out");
  for (double x : p.design.values)
    if (!std::isfinite(x))
      return absl::InvalidArgumentError("a predictor is no number: leave that day out");
  return absl::OkStatus();
}

class Iteration {
 public:
  explicit Iteration(const CountRegression& p)
      : p_(p), n_(p.counts.size()), k_(p.design.columns), b_(k_, 0), mu_(n_) {
    if (!p.start.empty()) {
      b_ = p.start;
      return;
    }
    // Start from the overall level in the first column where it is an intercept.
    double y = 0, exposure = 0;
    for (size_t i = 0; i < n_; ++i) y += p.counts[i], exposure += std::exp(Offset(i));
    if (!p.prior.empty()) b_ = p.prior;
    bool intercept = n_ > 0;
    for (size_t i = 0; i < n_; ++i) intercept = intercept && p.design.Row(i)[0] == 1;
    if (intercept) b_[0] = std::log((y + 0.1) / (exposure + 0.1));
  }

  // Runs to convergence at this size; true when it converged.
  bool Run(double size) {
    double objective = Evaluate(b_, size);
    for (int round = 0; round < 60; ++round) {
      const std::vector<double> target = Step(size);
      double by = 1, next = kInfinity;
      std::vector<double> trial(k_);
      for (int halving = 0; halving < 20; ++halving, by *= 0.5) {
        for (size_t j = 0; j < k_; ++j) trial[j] = b_[j] + by * (target[j] - b_[j]);
        next = Evaluate(trial, size);
        if (next <= objective + 1e-10 * std::abs(objective)) break;
      }
      const double change = objective - next;
      if (next <= objective) {
        b_ = trial;
        objective = next;
      } else {
        objective = Evaluate(b_, size);
      }
      if (std::abs(change) <= 1e-11 * (std::abs(objective) + 0.1)) return true;
    }
    return false;
  }

  const std::vector<double>& mu() const { return mu_; }
  const std::vector<double>& b() const { return b_; }

  std::vector<double> Covariance(double size) const {
    std::vector<double> right;
    const Symmetric inverse = Information(size, &right).Inverse();
    std::vector<double> all(k_ * k_, 0);
    for (size_t i = 0; i < k_; ++i)
      for (size_t j = 0; j <= i; ++j) all[i * k_ + j] = all[j * k_ + i] = inverse.At(i, j);
    return all;
  }

 private:
  double Offset(size_t i) const { return p_.offset.empty() ? 0 : p_.offset[i]; }
  double Penalty(size_t j) const { return p_.penalty.empty() ? 0 : p_.penalty[j]; }
  double Prior(size_t j) const { return p_.prior.empty() ? 0 : p_.prior[j]; }

  double Evaluate(const std::vector<double>& b, double size) {
    double sum = 0;
    for (size_t i = 0; i < n_; ++i) {
      mu_[i] = MeanAt(b, p_.design.Row(i), Offset(i));
      sum += DevianceOf(p_.counts[i], mu_[i], size);
    }
    for (size_t j = 0; j < k_; ++j) sum += Penalty(j) * (b[j] - Prior(j)) * (b[j] - Prior(j));
    return sum;
  }

  // With the right side of the step's equations.
  Symmetric Information(double size, std::vector<double>* right_side) const {
    Symmetric information(k_);
    std::vector<double>& right = *right_side;
    right.assign(k_, 0);
    for (size_t i = 0; i < n_; ++i) {
      const double* row = p_.design.Row(i);
      const double mu = mu_[i], w = mu / (1 + mu / size);
      const double z = std::log(mu) - Offset(i) + (p_.counts[i] - mu) / mu;
      for (size_t j = 0; j < k_; ++j) {
        if (row[j] == 0) continue;
        const double wx = w * row[j];
        right[j] += wx * z;
        for (size_t l = 0; l <= j; ++l) information.At(j, l) += wx * row[l];
      }
    }
    for (size_t j = 0; j < k_; ++j) {
      information.At(j, j) += Penalty(j);
      right[j] += Penalty(j) * Prior(j);
    }
    return information;
  }

  std::vector<double> Step(double size) const {
    std::vector<double> right;
    const Symmetric information = Information(size, &right);
    return information.Solve(right);
  }

  const CountRegression& p_;
  size_t n_, k_;
  std::vector<double> b_, mu_;
};

}  // namespace

absl::StatusOr<CountFit> FitCounts(const CountRegression& problem) {
  if (absl::Status s = Check(problem); !s.ok()) return s;
  Iteration iteration(problem);
  CountFit fit;
  fit.size = kInfinity;
  fit.converged = iteration.Run(fit.size);
  for (int round = 0; problem.overdispersed && round < 25; ++round) {
    const double size = FitSize(problem.counts, iteration.mu());
    const bool same = size == fit.size || std::abs(size - fit.size) < 1e-7 * size;
    fit.size = size;
    if (same) break;
    fit.converged = iteration.Run(fit.size);
  }
  fit.coefficients = iteration.b();
  fit.fitted = iteration.mu();
  fit.covariance = iteration.Covariance(fit.size);
  for (size_t i = 0; i < problem.counts.size(); ++i) {
    const double y = problem.counts[i], mu = fit.fitted[i];
    fit.deviance += DevianceOf(y, mu, fit.size);
    fit.log_likelihood += LogProbability({mu, fit.size}, static_cast<int64_t>(y));
  }
  return fit;
}

double MeanOfRow(const CountFit& fit, const double* row, double offset) {
  return MeanAt(fit.coefficients, row, offset);
}

}  // namespace ferrule::plan
