#include "core/plan/erlang.h"

#include <algorithm>
#include <cmath>
#include <limits>

#include "core/plan/distributions.h"

namespace ferrule::plan {

double LogLossProbability(double load, int64_t units) {
  if (!(load > 0)) return units > 0 ? -std::numeric_limits<double>::infinity() : 0;
  if (units <= 0) return 0;
  const CountLaw law{load};
  const double below = Cdf(law, units);
  if (below > 1e-280) return LogProbability(law, units) - std::log(below);
  // So far below the load that F itself underflows: F(n) / f(n) = 1 + n/a (1 + (n-1)/a (...)),
  // whose terms shrink like (n/a)^k.
  double sum = 1, term = 1;
  for (int64_t k = units; k > 0 && term > 1e-18 * sum; --k) {
    term *= static_cast<double>(k) / load;
    sum += term;
  }
  return -std::log(sum);
}

double LossProbability(double load, int64_t units) {
  if (!(load > 0)) return units > 0 ? 0 : 1;
  if (units <= 0) return 1;
  if (units > 4096) return std::exp(LogLossProbability(load, units));
  // On the inverse there is nothing to overflow before the loss itself underflows.
  double inverse = 1;
  for (int64_t k = 1; k <= units; ++k) {
    inverse = 1 + inverse * static_cast<double>(k) / load;
    if (inverse > 1e300) return std::exp(LogLossProbability(load, units));
  }
  return 1 / inverse;
}

double LossBetween(double load, double units) {
  if (units < 0) return 1;
  if (!(load > 0)) return units > 0 ? 0 : 1;
  if (units > 4096) return LossProbability(load, std::llround(units));
  // The recursion of whole numbers holds between them, too. It begins with the mean of
  // (1 + T)^part, T of the exponential law with mean 1 / load: nearly (1 + 1 / load)^part for great
  // loads, and that times gamma(1 + part) for small ones.
  const double part = units - std::floor(units), small = 1 / (1 + load);
  double inverse = std::exp(part * std::log1p(1 / load) + small * small * LogGamma(1 + part));
  for (double k = part + 1; k < units + .5; k += 1) {
    inverse = 1 + inverse * k / load;
    if (inverse > 1e300) return 0;
  }
  return 1 / inverse;
}

int64_t SmallestFleet(double load, double share) {
  if (!(load > 0)) return 0;
  share = std::clamp(share, 1e-250, 1.0);
  double inverse = 1;
  int64_t units = 0;
  while (1 / inverse > share) {
    ++units;
    inverse = 1 + inverse * static_cast<double>(units) / load;
  }
  return units;
}

double LargestLoad(int64_t units, double share) {
  if (units <= 0 || !(share > 0)) return 0;
  if (share >= 1) return std::numeric_limits<double>::infinity();
  double low = 0, high = 1;
  while (LossProbability(high, units) <= share) {
    low = high;
    high *= 2;
  }
  for (int i = 0; i < 200 && high - low > 1e-14 * high; ++i) {
    const double middle = 0.5 * (low + high);
    (LossProbability(middle, units) <= share ? low : high) = middle;
  }
  return low;
}

}  // namespace ferrule::plan
