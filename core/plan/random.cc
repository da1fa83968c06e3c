#include "core/plan/random.h"

#include <bit>
#include <cmath>
#include <numbers>

namespace ferrule::plan {
namespace {

uint64_t SplitMix(uint64_t& x) {
  uint64_t z = (x += 0x9e3779b97f4a7c15);
  z = (z ^ (z >> 30)) * 0xbf58476d1ce4e5b9;
  z = (z ^ (z >> 27)) * 0x94d049bb133111eb;
  return z ^ (z >> 31);
}

}  // namespace

Random::Random(uint64_t seed, uint64_t stream) {
  uint64_t x = seed;
  uint64_t mixed = SplitMix(x) ^ (stream * 0xd1342543de82ef95 + 0x2545f4914f6cdd1d);
  for (uint64_t& s : state_) s = SplitMix(mixed);
}

uint64_t Random::Next() {
  const uint64_t result = std::rotl(state_[0] + state_[3], 23) + state_[0];
  const uint64_t t = state_[1] << 17;
  state_[2] ^= state_[0];
  state_[3] ^= state_[1];
  state_[1] ^= state_[2];
  state_[0] ^= state_[3];
  state_[2] ^= t;
  state_[3] = std::rotl(state_[3], 45);
  return result;
}

double Random::Uniform() { return (static_cast<double>(Next() >> 12) + 0.5) * 0x1.0p-52; }

double Random::Normal() {
  const double radius = std::sqrt(-2 * std::log(Uniform()));
  return radius * std::cos(2 * std::numbers::pi * Uniform());
}

double Random::Gamma(double shape, double scale) {
  if (!(shape > 0) || !(scale > 0)) return 0;
  if (shape < 1) return Gamma(shape + 1, scale) * std::pow(Uniform(), 1 / shape);
  // Marsaglia and Tsang 2000.
  const double d = shape - 1.0 / 3, c = 1 / std::sqrt(9 * d);
  for (;;) {
    const double x = Normal(), v = std::pow(1 + c * x, 3);
    if (v <= 0) continue;
    if (std::log(Uniform()) < 0.5 * x * x + d - d * v + d * std::log(v)) return d * v * scale;
  }
}

int64_t Random::Poisson(double mean) {
  if (!(mean > 0)) return 0;
  // Large means are halved through the order statistics of the arrival times: the time of the
  // k-th arrival is a gamma variable.
  int64_t count = 0;
  while (mean > 24) {
    const int64_t k = static_cast<int64_t>(mean * 0.875);
    const double time = Gamma(static_cast<double>(k), 1);
    if (time > mean) {
      // k - 1 arrivals lie evenly before `time`: count those before `mean`.
      for (int64_t i = 1; i < k; ++i) count += Uniform() * time < mean;
      return count;
    }
    count += k;
    mean -= time;
  }
  double limit = std::exp(-mean), product = Uniform();
  while (product > limit) {
    ++count;
    product *= Uniform();
  }
  return count;
}

}  // namespace ferrule::plan
