#include "core/reliability/excess.h"

#include <algorithm>
#include <boost/math/special_functions/beta.hpp>
#include <numeric>

namespace ferrule::reliability {

std::vector<double> ChancesOfSoMany(const std::vector<Exposure>& units) {
  double hours = 0;
  int64_t failures = 0;
  for (const Exposure& unit : units) {
    hours += unit.hours;
    failures += unit.failures;
  }
  std::vector<double> chances;
  for (const Exposure& unit : units) {
    const auto k = static_cast<double>(unit.failures);
    const auto n = static_cast<double>(failures);
    double chance = 1;
    if (unit.failures > 0 && hours > 0) {
      const double share = unit.hours / hours;
      // P(X >= k) of a binomial law is the regularised incomplete beta function.
      chance = share <= 0 ? 0 : share >= 1 ? 1 : boost::math::ibeta(k, n - k + 1, share);
    }
    chances.push_back(chance);
  }
  return chances;
}

std::vector<double> CorrectForMany(const std::vector<double>& chances) {
  std::vector<size_t> order(chances.size());
  std::iota(order.begin(), order.end(), size_t{0});
  std::sort(order.begin(), order.end(),
            [&](size_t a, size_t b) { return chances[a] > chances[b]; });
  const auto m = static_cast<double>(chances.size());
  std::vector<double> corrected(chances.size());
  double least = 1;
  for (size_t i = 0; i < order.size(); ++i) {  // from the greatest chance down
    const auto rank = static_cast<double>(chances.size() - i);
    least = std::min(least, chances[order[i]] * m / rank);
    corrected[order[i]] = least;
  }
  return corrected;
}

}  // namespace ferrule::reliability
