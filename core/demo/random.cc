#include "core/demo/random.h"

#include <numeric>

namespace ferrule::demo {

int64_t Random::Between(int64_t low, int64_t high) {
  const uint64_t range = static_cast<uint64_t>(high - low) + 1;
  // Multiply and shift; the bias is below 2^-32 for the ranges used here.
  const uint64_t wide = (engine_() >> 32) * range;
  return low + static_cast<int64_t>(wide >> 32);
}

size_t Random::Weighted(std::span<const double> weights) {
  const double total = std::accumulate(weights.begin(), weights.end(), 0.0);
  double left = Fraction() * total;
  for (size_t i = 0; i + 1 < weights.size(); ++i) {
    if (left < weights[i]) return i;
    left -= weights[i];
  }
  return weights.size() - 1;
}

int Random::Count(double mean) {
  // A binomial count of many small trials.
  constexpr int kTrialsPerUnit = 8;
  const int trials = static_cast<int>(mean * kTrialsPerUnit) + 1;
  const double p = mean / trials;
  int count = 0;
  for (int i = 0; i < trials; ++i) count += Chance(p) ? 1 : 0;
  return count;
}

}  // namespace ferrule::demo
