#include "core/plan/simulation.h"

#include <algorithm>
#include <cmath>

#include "core/plan/random.h"

namespace ferrule::plan {
namespace {

// Draws lengths by the alias method (Walker 1977): one number, one comparison.
class Lengths {
 public:
  explicit Lengths(const std::vector<double>& chance) {
    double sum = 0;
    for (double p : chance) sum += std::max(p, 0.0);
    const size_t n = std::max<size_t>(chance.size(), 1);
    keep_.assign(n, 1);
    other_.assign(n, 0);
    if (!(sum > 0)) return;
    std::vector<size_t> small, large;
    for (size_t k = 0; k < n; ++k) {
      keep_[k] = std::max(chance[k], 0.0) / sum * static_cast<double>(n);
      (keep_[k] < 1 ? small : large).push_back(k);
    }
    while (!small.empty() && !large.empty()) {
      const size_t s = small.back(), l = large.back();
      small.pop_back();
      other_[s] = l;
      keep_[l] -= 1 - keep_[s];
      if (keep_[l] < 1) {
        large.pop_back();
        small.push_back(l);
      }
    }
    for (size_t k : small) keep_[k] = 1;
    for (size_t k : large) keep_[k] = 1;
  }

  size_t Draw(Random& random) const {
    const double place = random.Uniform() * static_cast<double>(keep_.size());
    const size_t k = static_cast<size_t>(place);
    return place - static_cast<double>(k) < keep_[k] ? k : other_[k];
  }

 private:
  std::vector<double> keep_;
  std::vector<size_t> other_;
};

double LevelOf(const SimulationInput& input, Random& random) {
  if (!(input.level_doubt > 0)) return 1;
  const double square = input.level_doubt * input.level_doubt;
  return random.Gamma(1 / square, square);
}

}  // namespace

double WantedPaths::ShortAtLeastOnce(int64_t units) const {
  const auto n = std::count_if(most.begin(), most.end(), [&](int m) { return m > units; });
  return most.empty() ? 0 : static_cast<double>(n) / static_cast<double>(most.size());
}

WantedPaths SimulateWanted(const SimulationInput& input) {
  const size_t days = input.orders.size();
  const Lengths lengths(input.length_chance);
  WantedPaths result;
  struct Sums {
    double units = 0, squares = 0;
  };
  std::vector<Sums> sums(days);
  std::vector<int> change(days + 1);
  for (int path = 0; path < input.paths; ++path) {
    Random random(input.seed, static_cast<uint64_t>(path));
    const double level = LevelOf(input, random);
    std::fill(change.begin(), change.end(), 0);
    for (size_t t = 0; t < days; ++t) {
      const int64_t orders = random.Poisson(level * input.orders[t]);
      change[t] += static_cast<int>(orders);
      for (int64_t k = 0; k < orders; ++k) --change[std::min(days, t + lengths.Draw(random))];
    }
    int in_use = 0, most = 0;
    for (size_t t = 0; t < days; ++t) {
      in_use += change[t];
      most = std::max(most, in_use);
      sums[t].units += in_use;
      sums[t].squares += static_cast<double>(in_use) * in_use;
    }
    result.most.push_back(most);
  }
  const double n = std::max(1, input.paths);
  for (const Sums& day : sums) {
    const double mean = day.units / n;
    result.mean.push_back(mean);
    result.variance.push_back(std::max(0.0, day.squares / n - mean * mean));
  }
  return result;
}

LossResult SimulateLoss(const SimulationInput& input, int64_t units) {
  const size_t days = input.orders.size();
  const Lengths lengths(input.length_chance);
  LossResult result;
  std::vector<int64_t> back(days + 1);
  for (int path = 0; path < input.paths; ++path) {
    Random random(input.seed, static_cast<uint64_t>(path));
    const double level = LevelOf(input, random);
    std::fill(back.begin(), back.end(), 0);
    int64_t in_use = 0;
    for (size_t t = 0; t < days; ++t) {
      in_use -= back[t];
      const int64_t orders = random.Poisson(level * input.orders[t]);
      result.orders += static_cast<double>(orders);
      for (int64_t k = 0; k < orders; ++k) {
        // A lost order draws its length all the same, so that fleets see the same orders.
        const size_t length = lengths.Draw(random);
        if (in_use >= units) {
          result.lost += 1;
        } else if (length > 0) {
          ++in_use;
          ++back[std::min(days, t + length)];
        }
      }
    }
  }
  result.lost_share = result.orders > 0 ? result.lost / result.orders : 0;
  const double n = std::max(1, input.paths);
  result.orders /= n;
  result.lost /= n;
  return result;
}

}  // namespace ferrule::plan
