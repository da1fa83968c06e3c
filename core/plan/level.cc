#include "core/plan/level.h"

#include <algorithm>
#include <cmath>

namespace ferrule::plan {
namespace {

// A symmetric tridiagonal system: diagonal d, off-diagonal e.
struct Tridiagonal {
  std::vector<double> d, e;

  // Factors in place (LDL'); solves and the determinant then use d and the ratios in e.
  void Factor() {
    for (size_t i = 1; i < d.size(); ++i) {
      const double ratio = e[i - 1] / d[i - 1];
      d[i] -= ratio * e[i - 1];
      e[i - 1] = ratio;
    }
  }
  void Solve(std::vector<double>& x) const {
    for (size_t i = 1; i < d.size(); ++i) x[i] -= e[i - 1] * x[i - 1];
    for (size_t i = 0; i < d.size(); ++i) x[i] /= d[i];
    for (size_t i = d.size() - 1; i-- > 0;) x[i] -= e[i] * x[i + 1];
  }
  double LogDeterminant() const {
    double sum = 0;
    for (double v : d) sum += std::log(v);
    return sum;
  }
};

// Precision of the wandering level itself. The first block is stationary, or nearly free when the
// level does not return.
Tridiagonal Prior(size_t n, const LevelLaw& law) {
  const double q = 1 / (law.step * law.step), phi = law.persistence;
  const double first = q * std::max(1 - phi * phi, law.step * law.step / .25);
  Tridiagonal p{std::vector<double>(n, 0), std::vector<double>(n > 0 ? n - 1 : 0, -phi * q)};
  for (size_t i = 0; i < n; ++i) {
    p.d[i] += i == 0 ? first : q;
    if (i + 1 < n) p.d[i] += phi * phi * q;
  }
  return p;
}

double Quadratic(const Tridiagonal& p, const std::vector<double>& x) {
  double sum = 0;
  for (size_t i = 0; i < x.size(); ++i) {
    sum += p.d[i] * x[i] * x[i];
    if (i + 1 < x.size()) sum += 2 * p.e[i] * x[i] * x[i + 1];
  }
  return sum;
}

}  // namespace

double Level::Mean(size_t block) const {
  const size_t lead = log_mean.size() - kept;
  const double variance = block >= lead ? Covariance(block - lead, block - lead) : 0;
  return std::exp(log_mean[block] + 0.5 * variance);
}

Level SmoothLevel(const std::vector<LevelBlock>& blocks, const LevelLaw& law, double dispersion,
                  size_t kept) {
  const size_t n = blocks.size();
  Level result;
  result.law = law;
  result.kept = std::min(kept, n);
  result.log_mean.assign(n, 0);
  if (n == 0) return result;
  const Tridiagonal prior = Prior(n, law);
  std::vector<double>& x = result.log_mean;
  Tridiagonal posterior;
  double change = 1;
  for (int round = 0; round < 30 && change > 1e-9; ++round) {
    posterior = prior;
    std::vector<double> gradient(n, 0);
    for (size_t i = 0; i < n; ++i) {
      const double rate = blocks[i].expected * std::exp(x[i]) / dispersion;
      gradient[i] = blocks[i].counted / dispersion - rate - prior.d[i] * x[i];
      if (i > 0) gradient[i] -= prior.e[i - 1] * x[i - 1];
      if (i + 1 < n) gradient[i] -= prior.e[i] * x[i + 1];
      posterior.d[i] += rate;
    }
    posterior.Factor();
    posterior.Solve(gradient);
    change = 0;
    for (size_t i = 0; i < n; ++i) {
      const double move = std::clamp(gradient[i], -1.0, 1.0);
      x[i] = std::clamp(x[i] + move, -5.0, 5.0);
      change = std::max(change, std::abs(move));
    }
  }
  Tridiagonal factored = prior;
  factored.Factor();
  double fit =
      -0.5 * Quadratic(prior, x) + 0.5 * (factored.LogDeterminant() - posterior.LogDeterminant());
  for (size_t i = 0; i < n; ++i)
    if (blocks[i].expected > 0)
      fit += (blocks[i].counted * x[i] - blocks[i].expected * (std::exp(x[i]) - 1)) / dispersion;
  result.log_evidence = fit;
  result.covariance.assign(result.kept * result.kept, 0);
  for (size_t j = 0; j < result.kept; ++j) {
    std::vector<double> column(n, 0);
    column[n - result.kept + j] = 1;
    posterior.Solve(column);
    for (size_t i = 0; i < result.kept; ++i)
      result.covariance[i * result.kept + j] = column[n - result.kept + i];
  }
  return result;
}

Level FitLevel(const std::vector<LevelBlock>& blocks, double dispersion, size_t kept) {
  Level best;
  bool first = true;
  for (double persistence : {.6, .8, .9, .96, .99}) {
    for (double spread : {.03, .06, .1, .15, .22, .35, .6}) {
      // `spread` is how far the level strays in the long run; a spread of about a tenth is what
      // demand usually shows (common practice, no source).
      const LevelLaw law{persistence, spread * std::sqrt(1 - persistence * persistence)};
      Level level = SmoothLevel(blocks, law, dispersion, 0);
      const double far = std::log(spread / .1) / 1.2, slow = (persistence - .9) / .15;
      level.log_evidence -= 0.5 * (far * far + slow * slow);
      if (first || level.log_evidence > best.log_evidence) best = std::move(level);
      first = false;
    }
  }
  const double evidence = best.log_evidence;
  best = SmoothLevel(blocks, best.law, dispersion, kept);
  best.log_evidence = evidence;
  return best;
}

}  // namespace ferrule::plan
