// Chance out of a seed: the same numbers on every machine and for every number of threads, as
// each stream has a generator of its own. xoshiro256++ (Blackman and Vigna 2019), seeded by
// splitmix64.
#pragma once

#include <cstdint>

namespace ferrule::plan {

class Random {
 public:
  // `stream` parts the generators of one seed: one for each path, or each path and class.
  explicit Random(uint64_t seed, uint64_t stream = 0);

  uint64_t Next();
  double Uniform();  // in (0, 1)
  double Normal();
  double Gamma(double shape, double scale);
  int64_t Poisson(double mean);  // 0 for a mean that is not above 0

 private:
  uint64_t state_[4];
};

}  // namespace ferrule::plan
