#include "core/plan/level.h"

#include <algorithm>
#include <cmath>
#include <limits>
#include <utility>

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
  // The diagonal of the inverse, once factored.
  std::vector<double> InverseDiagonal() const {
    std::vector<double> inverse(d.size(), 0);
    for (size_t i = d.size(); i-- > 0;) {
      inverse[i] = 1 / d[i];
      if (i + 1 < d.size()) inverse[i] += e[i] * e[i] * inverse[i + 1];
    }
    return inverse;
  }
  double LogDeterminant() const {
    double sum = 0;
    for (double v : d) sum += std::log(v);
    return sum;
  }
};

// Of the log level, far from anything seen; bounded for a level that does not return.
double LongRunVariance(const LevelLaw& law) {
  const double step = law.step * law.step;
  return step / std::max(1 - law.persistence * law.persistence, step / .25);
}

// Precision of the wandering level itself. The first block is stationary, or nearly free when the
// level does not return.
Tridiagonal Prior(size_t n, const LevelLaw& law) {
  const double q = 1 / (law.step * law.step), phi = law.persistence;
  const double first = 1 / LongRunVariance(law);
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
  // The level is 1 in the mean, as the calendar is fitted to the mean of all: its log lies lower by
  // half of its variance. `x` is the log level above that.
  const double below = LongRunVariance(law) / 2;
  std::vector<double>& x = result.log_mean;
  Tridiagonal posterior;
  double change = 1;
  for (int round = 0; round < 30 && change > 1e-9; ++round) {
    posterior = prior;
    std::vector<double> gradient(n, 0);
    for (size_t i = 0; i < n; ++i) {
      const double rate = blocks[i].expected * std::exp(x[i] - below) / dispersion;
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
      fit +=
          (blocks[i].counted * (x[i] - below) - blocks[i].expected * (std::exp(x[i] - below) - 1)) /
          dispersion;
  result.log_evidence = fit;
  result.covariance.assign(result.kept * result.kept, 0);
  for (size_t j = 0; j < result.kept; ++j) {
    std::vector<double> column(n, 0);
    column[n - result.kept + j] = 1;
    posterior.Solve(column);
    for (size_t i = 0; i < result.kept; ++i)
      result.covariance[i * result.kept + j] = column[n - result.kept + i];
  }
  // From the mode to the mean: a few counts leave the log level skewed. First term of the expansion
  // about the mode, exact for the mean of a single gamma posterior.
  std::vector<double> skew = posterior.InverseDiagonal();
  for (size_t i = 0; i < n; ++i)
    skew[i] *= -0.5 * blocks[i].expected * std::exp(x[i] - below) / dispersion;
  posterior.Solve(skew);
  for (size_t i = 0; i < n; ++i) x[i] += skew[i] - below;
  return result;
}

namespace {

// What one law says, by its weight among all.
void Mix(const Level& one, double weight, Level* sum, std::vector<double>* squares) {
  for (size_t i = 0; i < one.log_mean.size(); ++i) sum->log_mean[i] += weight * one.log_mean[i];
  const size_t lead = one.log_mean.size() - one.kept;
  for (size_t i = 0; i < one.kept; ++i)
    for (size_t j = 0; j < one.kept; ++j)
      (*squares)[i * one.kept + j] +=
          weight * (one.Covariance(i, j) + one.log_mean[lead + i] * one.log_mean[lead + j]);
}

}  // namespace

Level FitLevel(const std::vector<LevelBlock>& blocks, double dispersion, size_t kept) {
  std::vector<std::pair<LevelLaw, double>> laws;
  Level result;
  result.log_evidence = -std::numeric_limits<double>::infinity();
  for (double persistence : {.6, .8, .9, .96, .99}) {
    for (double spread : {.03, .06, .1, .15, .22, .35, .6}) {
      // `spread` is how far the level strays in the long run; a spread of about a tenth is what
      // demand usually shows (common practice, no source).
      const LevelLaw law{persistence, spread * std::sqrt(1 - persistence * persistence)};
      const double far = std::log(spread / .1) / 1.2, slow = (persistence - .9) / .15;
      const double evidence =
          SmoothLevel(blocks, law, dispersion, 0).log_evidence - 0.5 * (far * far + slow * slow);
      laws.emplace_back(law, evidence);
      if (evidence > result.log_evidence) result.log_evidence = evidence, result.law = law;
    }
  }
  double total = 0;
  for (auto& [law, weight] : laws) {
    weight = std::exp(weight - result.log_evidence);
    // Laws that hardly count are not worth their time.
    if (weight < .02) weight = 0;
    total += weight;
  }
  result.kept = std::min(kept, blocks.size());
  result.log_mean.assign(blocks.size(), 0);
  result.covariance.assign(result.kept * result.kept, 0);
  for (const auto& [law, weight] : laws)
    if (weight > 0)
      Mix(SmoothLevel(blocks, law, dispersion, kept), weight / total, &result, &result.covariance);
  const size_t lead = blocks.size() - result.kept;
  for (size_t i = 0; i < result.kept; ++i)
    for (size_t j = 0; j < result.kept; ++j)
      result.covariance[i * result.kept + j] -=
          result.log_mean[lead + i] * result.log_mean[lead + j];
  return result;
}

}  // namespace ferrule::plan
