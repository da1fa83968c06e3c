#include "core/plan/pmf.h"

#include <algorithm>
#include <cmath>

namespace ferrule::plan {
namespace {

constexpr double kNever = 1e-12;
constexpr double kTrim = 1e-16;

// Cuts the ends that nothing rests on and scales to a sum of 1.
void Tidy(Pmf& pmf) {
  std::vector<double>& w = pmf.weight;
  while (w.size() > 1 && w.back() < kTrim) w.pop_back();
  size_t lead = 0;
  while (lead + 1 < w.size() && w[lead] < kTrim) ++lead;
  if (lead > 0) {
    w.erase(w.begin(), w.begin() + static_cast<std::ptrdiff_t>(lead));
    pmf.first += static_cast<int64_t>(lead);
  }
  double sum = 0;
  for (double x : w) sum += x;
  if (sum > 0)
    for (double& x : w) x /= sum;
}

}  // namespace

Pmf Point(int64_t value) { return {value, {1.0}}; }

Pmf PmfOf(const CountLaw& law) {
  if (!(law.mean > 1e-14)) return Point(0);
  // From the mode outwards: no start value can underflow.
  const bool poisson = !(law.size <= 1e6);
  const double size = poisson ? 0 : std::max(law.size, 1e-8);
  const double ratio = poisson ? law.mean : law.mean / (size + law.mean);
  const auto up = [&](double k) {  // P(k + 1) / P(k)
    return (poisson ? 1.0 : k + size) / (k + 1) * ratio;
  };
  const int64_t mode =
      static_cast<int64_t>(std::max(0.0, poisson ? law.mean : (size - 1) / size * law.mean));
  std::vector<double> above, below;
  const double peak = Probability(law, mode);
  double p = peak;
  for (int64_t k = mode; p > kTrim * 1e-2; ++k) {
    above.push_back(p);
    p *= up(static_cast<double>(k));
  }
  p = peak;
  for (int64_t k = mode; k > 0; --k) {
    p /= up(static_cast<double>(k - 1));
    if (p < kTrim * 1e-2) break;
    below.push_back(p);
  }
  Pmf result;
  result.first = mode - static_cast<int64_t>(below.size());
  result.weight.assign(below.rbegin(), below.rend());
  result.weight.insert(result.weight.end(), above.begin(), above.end());
  Tidy(result);
  return result;
}

Pmf PoissonBinomial(const std::vector<double>& chances) {
  Pmf result;
  std::vector<double>& f = result.weight;
  f.reserve(chances.size() + 1);
  for (double p : chances) {
    if (!(p > kNever)) continue;
    if (p > 1 - kNever) {
      ++result.first;
      continue;
    }
    f.push_back(0);
    for (size_t k = f.size() - 1; k > 0; --k) f[k] = f[k] * (1 - p) + f[k - 1] * p;
    f[0] *= 1 - p;
  }
  Tidy(result);
  return result;
}

Pmf Convolve(const Pmf& a, const Pmf& b) {
  const Pmf& shorter = a.weight.size() < b.weight.size() ? a : b;
  const Pmf& longer = a.weight.size() < b.weight.size() ? b : a;
  Pmf result;
  result.first = a.first + b.first;
  result.weight.assign(a.weight.size() + b.weight.size() - 1, 0);
  for (size_t i = 0; i < shorter.weight.size(); ++i)
    for (size_t j = 0; j < longer.weight.size(); ++j)
      result.weight[i + j] += shorter.weight[i] * longer.weight[j];
  Tidy(result);
  return result;
}

Pmf Mix(const std::vector<Pmf>& parts, const std::vector<double>& weights) {
  if (parts.empty()) return Point(0);
  int64_t first = parts[0].first, last = first;
  for (const Pmf& part : parts) {
    first = std::min(first, part.first);
    last = std::max(last, part.first + static_cast<int64_t>(part.weight.size()) - 1);
  }
  Pmf result{first, std::vector<double>(static_cast<size_t>(last - first + 1), 0)};
  for (size_t i = 0; i < parts.size(); ++i)
    for (size_t k = 0; k < parts[i].weight.size(); ++k)
      result.weight[static_cast<size_t>(parts[i].first - first) + k] +=
          weights[i] * parts[i].weight[k];
  Tidy(result);
  return result;
}

double Mean(const Pmf& pmf) {
  double sum = 0;
  for (size_t i = 0; i < pmf.weight.size(); ++i) sum += static_cast<double>(i) * pmf.weight[i];
  return static_cast<double>(pmf.first) + sum;
}

double Variance(const Pmf& pmf) {
  const double centre = Mean(pmf) - static_cast<double>(pmf.first);
  double sum = 0;
  for (size_t i = 0; i < pmf.weight.size(); ++i) {
    const double d = static_cast<double>(i) - centre;
    sum += d * d * pmf.weight[i];
  }
  return sum;
}

double Cdf(const Pmf& pmf, int64_t k) {
  double sum = 0;
  for (size_t i = 0; i < pmf.weight.size() && pmf.first + static_cast<int64_t>(i) <= k; ++i)
    sum += pmf.weight[i];
  return std::min(sum, 1.0);
}

double Tail(const Pmf& pmf, int64_t k) {
  double sum = 0;
  for (size_t i = pmf.weight.size(); i-- > 0 && pmf.first + static_cast<int64_t>(i) > k;)
    sum += pmf.weight[i];
  return std::min(sum, 1.0);
}

int64_t Quantile(const Pmf& pmf, double p) {
  double sum = 0;
  for (size_t i = 0; i < pmf.weight.size(); ++i) {
    sum += pmf.weight[i];
    // A sum of doubles may miss p by its rounding: 0.9 reached as 0.8999... is reached.
    if (sum >= p - 1e-14) return pmf.first + static_cast<int64_t>(i);
  }
  return pmf.first + static_cast<int64_t>(pmf.weight.size()) - 1;
}

double SpreadQuantile(const Pmf& pmf, double p) {
  const int64_t x = Quantile(pmf, p);
  const size_t i = static_cast<size_t>(x - pmf.first);
  const double below = Cdf(pmf, x - 1);
  const double part = pmf.weight[i] > 0 ? std::clamp((p - below) / pmf.weight[i], 0.0, 1.0) : 0.5;
  return std::max(0.0, static_cast<double>(x) - 0.5 + part);
}

CountRange CentralRange(const Pmf& pmf, double share) {
  const int64_t low = Quantile(pmf, (1 - share) / 2), high = Quantile(pmf, (1 + share) / 2);
  CountRange best{low, high};
  double least = 2;
  for (int64_t from : {low, low + 1})
    for (int64_t upto : {high, high - 1}) {
      if (from > upto) continue;
      const double miss = std::abs(Cdf(pmf, upto) - Cdf(pmf, from - 1) - share);
      if (miss < least - 1e-12) least = miss, best = {from, upto};
    }
  return best;
}

double RangeQuantile(const Pmf& pmf, double p, const CountRange& range) {
  constexpr double kBeside = .01;
  const double q = SpreadQuantile(pmf, p);
  if (p < .5)
    return std::clamp(q, static_cast<double>(range.low) - 1 + kBeside,
                      static_cast<double>(range.low));
  return std::clamp(q, static_cast<double>(range.high),
                    static_cast<double>(range.high) + 1 - kBeside);
}

double ExpectedShortage(const Pmf& pmf, int64_t units) {
  double sum = 0;
  for (size_t i = 0; i < pmf.weight.size(); ++i) {
    const int64_t x = pmf.first + static_cast<int64_t>(i);
    if (x > units) sum += static_cast<double>(x - units) * pmf.weight[i];
  }
  return sum;
}

double ExpectedSpare(const Pmf& pmf, int64_t units) {
  double sum = 0;
  for (size_t i = 0; i < pmf.weight.size(); ++i) {
    const int64_t x = pmf.first + static_cast<int64_t>(i);
    if (x < units) sum += static_cast<double>(units - x) * pmf.weight[i];
  }
  return sum;
}

}  // namespace ferrule::plan
