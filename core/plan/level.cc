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
    double sum = 0, product = 1;
    for (double v : d) {
      product *= v;
      if (product < 1e150 && product > 1e-150) continue;
      sum += std::log(product);
      product = 1;
    }
    return sum + std::log(product);
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

namespace {

// The log level of a Poisson stream, normal before anything is seen: `prior` is its precision, and
// its mean lies by `below` under 0 in each block. `mode` is the most likely log level above that:
// the search begins there when there is one. Without `levels` the evidence alone is told.
Level Smooth(const std::vector<LevelBlock>& blocks, const Tridiagonal& prior,
             const std::vector<double>& below, double dispersion, size_t kept, bool levels,
             std::vector<double>* mode) {
  const size_t n = blocks.size();
  Level result;
  result.kept = std::min(kept, n);
  mode->resize(n, 0);
  if (n == 0) return result;
  std::vector<double>& x = *mode;
  Tridiagonal posterior;
  double change = 1;
  // Each round squares the error, and the evidence squares it once more.
  const double enough = levels ? 1e-6 : 1e-3;
  for (int round = 0; round < 30 && change > enough; ++round) {
    posterior = prior;
    std::vector<double> gradient(n, 0);
    for (size_t i = 0; i < n; ++i) {
      const double rate = blocks[i].expected * std::exp(x[i] - below[i]) / dispersion;
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
      fit += (blocks[i].counted * (x[i] - below[i]) -
              blocks[i].expected * (std::exp(x[i] - below[i]) - 1)) /
             dispersion;
  result.log_evidence = fit;
  if (!levels) return result;
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
    skew[i] *= -0.5 * blocks[i].expected * std::exp(x[i] - below[i]) / dispersion;
  posterior.Solve(skew);
  result.log_mean = x;
  for (size_t i = 0; i < n; ++i) result.log_mean[i] += skew[i] - below[i];
  return result;
}

Level SmoothFrom(const std::vector<LevelBlock>& blocks, const LevelLaw& law, double dispersion,
                 size_t kept, bool levels, std::vector<double>* mode) {
  // The level is 1 in the mean, as the calendar is fitted to the mean of all: its log lies lower by
  // half of its variance.
  const std::vector<double> below(blocks.size(), LongRunVariance(law) / 2);
  Level level = Smooth(blocks, Prior(blocks.size(), law), below, dispersion, kept, levels, mode);
  level.law = law;
  return level;
}

}  // namespace

Level SmoothLevel(const std::vector<LevelBlock>& blocks, const LevelLaw& law, double dispersion,
                  size_t kept) {
  std::vector<double> mode;
  return SmoothFrom(blocks, law, dispersion, kept, true, &mode);
}

Level LevelAround(const std::vector<LevelBlock>& ahead, const std::vector<double>& log_variance,
                  double dispersion) {
  const size_t n = ahead.size();
  Tridiagonal prior{std::vector<double>(n, 0), std::vector<double>(n > 0 ? n - 1 : 0, 0)};
  std::vector<double> below(n);
  // What happens between two blocks, told exactly equal by none: 1e-9 keeps the system regular.
  double before = 0;
  for (size_t i = 0; i < n; ++i) {
    const double q = 1 / std::max(log_variance[i] - before, 1e-9);
    before = std::max(before, log_variance[i]);
    below[i] = before / 2;
    prior.d[i] += q;
    if (i > 0) prior.d[i - 1] += q, prior.e[i - 1] = -q;
  }
  std::vector<double> mode;
  return Smooth(ahead, prior, below, dispersion, n, true, &mode);
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

// A spread of about a tenth and a persistence of .9 are what demand usually shows (common practice,
// no source): a mild preference, as the log of a prior.
double LogPrior(const LevelLaw& law) {
  const double spread = law.step / std::sqrt(1 - law.persistence * law.persistence);
  const double far = std::log(spread / .1) / 1.2, slow = (law.persistence - .9) / .15;
  return -0.5 * (far * far + slow * slow);
}

constexpr size_t kLikely = 6;  // laws that are told on as likely
// Streams alike count as this many at most: that they wander alike is itself only likely.
constexpr double kAlike = 3;

// `spread` is how far the level strays in the long run.
const std::vector<LikelyLaw>& Grid() {
  static const auto* const kLaws = [] {
    auto* laws = new std::vector<LikelyLaw>;
    for (double persistence : {.8, .9, .96, .99, .998})
      for (double spread : {.01, .03, .06, .1, .15, .22, .35, .6}) {
        const LevelLaw law{persistence, spread * std::sqrt(1 - persistence * persistence)};
        laws->push_back({law, LogPrior(law)});
      }
    return laws;
  }();
  return *kLaws;
}

}  // namespace

void LawEvidence::Add(const LawEvidence& other) {
  logs.resize(std::max(logs.size(), other.logs.size()), 0);
  for (size_t i = 0; i < other.logs.size(); ++i) logs[i] += other.logs[i];
  streams += other.streams;
}

void LawEvidence::Remove(const LawEvidence& other) {
  for (size_t i = 0; i < other.logs.size(); ++i) logs[i] -= other.logs[i];
  streams -= other.streams;
}

LawEvidence EvidenceOfLaws(const std::vector<LevelBlock>& blocks, double dispersion) {
  LawEvidence evidence{{}, 1};
  std::vector<double> mode;  // one law's is near the next one's
  for (const LikelyLaw& one : Grid())
    evidence.logs.push_back(SmoothFrom(blocks, one.law, dispersion, 0, false, &mode).log_evidence);
  return evidence;
}

std::vector<LikelyLaw> UsualLaws(const LawEvidence& alike) {
  std::vector<LikelyLaw> laws = Grid();
  if (alike.streams <= 0) return laws;
  const double weight = std::min(1.0, kAlike / alike.streams);
  for (size_t i = 0; i < laws.size(); ++i) laws[i].log_prior += weight * alike.logs[i];
  return laws;
}

namespace {

double LogWeight(const std::vector<LevelBlock>& blocks, double dispersion, const LikelyLaw& one,
                 std::vector<double>* mode) {
  return SmoothFrom(blocks, one.law, dispersion, 0, false, mode).log_evidence + one.log_prior;
}

}  // namespace

LevelLaw LikeliestLaw(const std::vector<LevelBlock>& blocks, double dispersion,
                      const std::vector<LikelyLaw>& laws) {
  LevelLaw best;
  double most = -std::numeric_limits<double>::infinity();
  std::vector<double> mode;  // one law's is near the next one's
  for (const LikelyLaw& one : laws) {
    const double evidence = LogWeight(blocks, dispersion, one, &mode);
    if (evidence > most) most = evidence, best = one.law;
  }
  return best;
}

Level FitLevel(const std::vector<LevelBlock>& blocks, double dispersion, size_t kept,
               const std::vector<LikelyLaw>& laws) {
  struct Weighed {
    LikelyLaw one;
    double weight = 0;
    std::vector<double> mode;
  };
  std::vector<Weighed> weighed;
  Level result;
  result.log_evidence = -std::numeric_limits<double>::infinity();
  std::vector<double> mode;  // one law's is near the next one's
  for (const LikelyLaw& one : laws) {
    const double evidence = LogWeight(blocks, dispersion, one, &mode);
    weighed.push_back({one, evidence, mode});
    if (evidence > result.log_evidence) result.log_evidence = evidence, result.law = one.law;
  }
  // Laws that hardly count are not worth their time.
  double total = 0;
  for (Weighed& w : weighed) w.weight = std::exp(w.weight - result.log_evidence);
  std::erase_if(weighed, [](const Weighed& w) { return w.weight < .02; });
  for (const Weighed& w : weighed) total += w.weight;
  result.kept = std::min(kept, blocks.size());
  result.log_mean.assign(blocks.size(), 0);
  result.covariance.assign(result.kept * result.kept, 0);
  for (Weighed& w : weighed)
    Mix(SmoothFrom(blocks, w.one.law, dispersion, kept, true, &w.mode), w.weight / total, &result,
        &result.covariance);
  const size_t lead = blocks.size() - result.kept;
  for (size_t i = 0; i < result.kept; ++i)
    for (size_t j = 0; j < result.kept; ++j)
      result.covariance[i * result.kept + j] -=
          result.log_mean[lead + i] * result.log_mean[lead + j];
  std::stable_sort(weighed.begin(), weighed.end(),
                   [](const Weighed& a, const Weighed& b) { return a.weight > b.weight; });
  for (size_t i = 0; i < std::min(weighed.size(), kLikely); ++i)
    result.likely.push_back(weighed[i].one);
  return result;
}

}  // namespace ferrule::plan
