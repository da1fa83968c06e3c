// Chance for the synthetic depot: one generator whose output the C++ standard fixes, with
// distributions of our own, because those of the standard library differ between libraries. The
// same seed gives the same numbers everywhere.
#pragma once

#include <cstdint>
#include <random>
#include <span>

namespace ferrule::demo {

class Random {
 public:
  explicit Random(uint64_t seed) : engine_(seed) {}

  // Any 64 bits.
  uint64_t Bits() { return engine_(); }
  // In [0, 1), a multiple of 2^-53.
  double Fraction() { return static_cast<double>(engine_() >> 11) * 0x1p-53; }
  // In [low, high], both inclusive. Precondition: low <= high.
  int64_t Between(int64_t low, int64_t high);
  // In [low, high).
  double Real(double low, double high) { return low + (high - low) * Fraction(); }
  // True with that probability.
  bool Chance(double probability) { return Fraction() < probability; }
  // An index, each as likely as its weight. Precondition: weights are >= 0 and not all 0.
  size_t Weighted(std::span<const double> weights);
  // A count with that mean whose variance is at most the mean: a whole part that is spread by
  // halves and a fraction by chance. Close to Poisson for the small means used here, and free of
  // library functions whose last digit differs between machines.
  int Count(double mean);

 private:
  std::mt19937_64 engine_;
};

}  // namespace ferrule::demo
