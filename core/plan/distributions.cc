#include "core/plan/distributions.h"

#include <algorithm>
#include <boost/math/policies/policy.hpp>
#include <boost/math/special_functions/beta.hpp>
#include <boost/math/special_functions/digamma.hpp>
#include <boost/math/special_functions/erf.hpp>
#include <boost/math/special_functions/gamma.hpp>
#include <boost/math/special_functions/trigamma.hpp>
#include <cmath>
#include <map>
#include <utility>

#include "core/plan/optimum.h"

namespace ferrule::plan {
namespace {

namespace bp = boost::math::policies;
// Nothing is thrown: a value outside a function's range comes back as infinity or NaN, and the
// callers below keep their arguments inside it.
using Quiet =
    bp::policy<bp::domain_error<bp::ignore_error>, bp::pole_error<bp::ignore_error>,
               bp::overflow_error<bp::ignore_error>, bp::evaluation_error<bp::ignore_error>,
               bp::underflow_error<bp::ignore_error>, bp::promote_double<false>>;

constexpr double kPoissonSize = 1e6;
constexpr double kTinyMean = 1e-300;

bool IsPoisson(const CountLaw& law) { return !(law.size <= kPoissonSize); }
double MeanOf(const CountLaw& law) { return law.mean > 0 ? law.mean : 0; }
double SizeOf(const CountLaw& law) { return std::max(law.size, 1e-8); }
double Success(const CountLaw& law) { return SizeOf(law) / (SizeOf(law) + law.mean); }

}  // namespace

double NormalCdf(double x) { return 0.5 * std::erfc(-x / std::sqrt(2.0)); }

double NormalQuantile(double p) {
  if (!(p > 1e-300)) p = 1e-300;
  p = std::min(p, 1 - 1e-16);
  return -std::sqrt(2.0) * boost::math::erfc_inv(2 * p, Quiet());
}

double GammaCdf(double x, double shape, double scale) {
  if (!(x > 0)) return 0;
  return boost::math::gamma_p(shape, x / scale, Quiet());
}

double FisherTail(double f, int numerator, int denominator) {
  if (!(f > 0)) return 1;
  const double share = numerator * f / (numerator * f + denominator);
  return boost::math::ibetac(.5 * numerator, .5 * denominator, share, Quiet());
}

double GammaQuantile(double p, double shape, double scale) {
  if (!(p > 0)) return 0;
  return scale * boost::math::gamma_p_inv(shape, std::min(p, 1 - 1e-16), Quiet());
}

double LogGamma(double x) { return boost::math::lgamma(x, Quiet()); }
double Digamma(double x) { return boost::math::digamma(x, Quiet()); }
double Trigamma(double x) { return boost::math::trigamma(x, Quiet()); }

CountLaw CountLawOfMoments(double mean, double variance) {
  mean = mean > 0 ? mean : 0;
  const double excess = variance - mean;
  if (!(excess > 1e-9 * mean) || mean == 0) return {mean};
  return {mean, mean * mean / excess};
}

double Variance(const CountLaw& law) {
  const double mean = MeanOf(law);
  return IsPoisson(law) ? mean : mean + mean * mean / SizeOf(law);
}

double Probability(const CountLaw& law, int64_t k) {
  const double mean = MeanOf(law);
  if (k < 0) return 0;
  if (mean < kTinyMean) return k == 0 ? 1 : 0;
  const double x = static_cast<double>(k);
  if (IsPoisson(law)) return boost::math::gamma_p_derivative(x + 1, mean, Quiet());
  const double size = SizeOf(law), p = Success(law);
  return p / (size + x) * boost::math::ibeta_derivative(size, x + 1, p, Quiet());
}

double LogProbability(const CountLaw& law, int64_t k) {
  const double direct = Probability(law, k);
  if (direct > 1e-290 || k < 0) return std::log(direct);
  const double mean = MeanOf(law), x = static_cast<double>(k);
  if (mean < kTinyMean) return -std::numeric_limits<double>::infinity();
  if (IsPoisson(law)) return x * std::log(mean) - mean - LogGamma(x + 1);
  const double size = SizeOf(law);
  return LogGamma(x + size) - LogGamma(size) - LogGamma(x + 1) - size * std::log1p(mean / size) +
         x * (std::log(mean) - std::log(size + mean));
}

double Cdf(const CountLaw& law, int64_t k) {
  if (k < 0) return 0;
  const double mean = MeanOf(law), x = static_cast<double>(k);
  if (mean < kTinyMean) return 1;
  if (IsPoisson(law)) return boost::math::gamma_q(x + 1, mean, Quiet());
  return boost::math::ibeta(SizeOf(law), x + 1, Success(law), Quiet());
}

double Tail(const CountLaw& law, int64_t k) {
  if (k < 0) return 1;
  const double mean = MeanOf(law), x = static_cast<double>(k);
  if (mean < kTinyMean) return 0;
  if (IsPoisson(law)) return boost::math::gamma_p(x + 1, mean, Quiet());
  return boost::math::ibetac(SizeOf(law), x + 1, Success(law), Quiet());
}

int64_t Quantile(const CountLaw& law, double p) {
  if (!(p > 0) || MeanOf(law) < kTinyMean) return 0;
  p = std::min(p, 1 - 1e-15);
  const double sd = std::sqrt(Variance(law));
  const double guess = std::clamp(law.mean + sd * NormalQuantile(p), 0.0, 4e18);
  // F jumps at integers, so the search is in integers: a bracket (low, high] with
  // F(low) < p <= F(high), then halving. In the upper half the tail keeps the digits.
  const auto reaches = [&](int64_t k) {
    return p <= 0.5 ? Cdf(law, k) >= p : Tail(law, k) <= 1 - p;
  };
  int64_t step = std::max<int64_t>(1, static_cast<int64_t>(0.1 * sd));
  int64_t high = static_cast<int64_t>(guess), low = high;
  while (!reaches(high)) {
    low = high;
    high += step;
    step *= 2;
  }
  step = std::max<int64_t>(1, static_cast<int64_t>(0.1 * sd));
  if (low == high) {
    do {
      high = low;
      low -= step;
      step *= 2;
    } while (low >= 0 && reaches(low));
  }
  low = std::max<int64_t>(low, -1);
  while (high - low > 1) {
    const int64_t middle = low + (high - low) / 2;
    (reaches(middle) ? high : low) = middle;
  }
  return high;
}

double ExpectedShortage(const CountLaw& law, int64_t units) {
  const double mean = MeanOf(law);
  if (units <= 0) return mean - static_cast<double>(units);
  const double n = static_cast<double>(units);
  if (mean < kTinyMean) return 0;
  // Below the mean the shortage is large and the sum over the short side is exact; above it the
  // tail is summed, as every term is positive.
  if (n <= mean) {
    double spare = 0;
    for (int64_t k = 0; k < units; ++k) spare += (n - static_cast<double>(k)) * Probability(law, k);
    return mean - n + spare;
  }
  double short_units = 0, p = Probability(law, units);
  for (int64_t k = units + 1;; ++k) {
    const double x = static_cast<double>(k);
    p *= IsPoisson(law) ? mean / x : (x - 1 + SizeOf(law)) / x * (1 - Success(law));
    const double term = (x - n) * p;
    short_units += term;
    if (term <= 1e-17 * short_units && x > mean) break;
    if (p == 0) break;
  }
  return short_units;
}

double FitSize(const std::vector<double>& counts, const std::vector<double>& means) {
  double scatter = 0, expected = 0;
  // Of equal counts with equal means there are often many.
  std::map<std::pair<double, double>, double> alike;
  for (size_t i = 0; i < counts.size(); ++i) {
    const double e = counts[i] - means[i];
    scatter += e * e - means[i];
    expected += means[i] * means[i];
    ++alike[{counts[i], std::max(means[i], 1e-12)}];
  }
  if (counts.empty() || expected <= 0) return std::numeric_limits<double>::infinity();
  const auto minus_log_likelihood = [&](double log_size) {
    const double r = std::exp(log_size);
    const double base = LogGamma(r);
    double sum = 0;
    for (const auto& [one, times] : alike) {
      const auto [y, m] = one;
      sum += times *
             ((y > 0 ? LogGamma(y + r) - base - y * log_size : 0.0) - (r + y) * std::log1p(m / r));
    }
    return -sum;
  };
  const double log_size = MinimiseOnInterval(minus_log_likelihood, std::log(0.02), std::log(1e5));
  if (log_size > std::log(5e4) || (scatter <= 0 && log_size > std::log(1e3)))
    return std::numeric_limits<double>::infinity();
  return std::exp(log_size);
}

std::vector<double> GammaSlices(double mean, double coefficient_of_variation, int n) {
  std::vector<double> slices(static_cast<size_t>(n), mean);
  if (!(coefficient_of_variation > 1e-6) || !(mean > 0)) return slices;
  const double shape = 1 / (coefficient_of_variation * coefficient_of_variation);
  const double scale = mean / shape;
  // The mean within a slice follows from the gamma law one shape higher.
  double below = 0;
  for (int i = 0; i < n; ++i) {
    const double edge = i + 1 < n ? GammaQuantile((i + 1.0) / n, shape, scale) : 0;
    const double upto = i + 1 < n ? GammaCdf(edge, shape + 1, scale) : 1;
    slices[static_cast<size_t>(i)] = mean * (upto - below) * n;
    below = upto;
  }
  return slices;
}

}  // namespace ferrule::plan
