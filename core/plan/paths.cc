#include "core/plan/paths.h"

#include <algorithm>
#include <cmath>

#include "core/plan/random.h"

namespace ferrule::plan {
namespace {

constexpr size_t kWeek = 7;

uint64_t Mix(uint64_t a, uint64_t b) {
  uint64_t x = a * 0x9e3779b97f4a7c15u ^ (b + 0xbf58476d1ce4e5b9u + (a << 6) + (a >> 2));
  x = (x ^ (x >> 30)) * 0xbf58476d1ce4e5b9u;
  x = (x ^ (x >> 27)) * 0x94d049bb133111ebu;
  return x ^ (x >> 31);
}

// A square root of a covariance: the lower triangle of Cholesky, with directions of no variance
// left at 0.
std::vector<double> Root(const std::vector<double>& covariance) {
  const auto n = static_cast<size_t>(std::lround(std::sqrt(covariance.size())));
  std::vector<double> root(n * n, 0);
  for (size_t i = 0; i < n; ++i)
    for (size_t j = 0; j <= i; ++j) {
      double sum = covariance[i * n + j];
      for (size_t k = 0; k < j; ++k) sum -= root[i * n + k] * root[j * n + k];
      if (i == j) {
        root[i * n + i] = sum > 1e-14 ? std::sqrt(sum) : 0;
      } else if (root[j * n + j] > 0) {
        root[i * n + j] = sum / root[j * n + j];
      }
    }
  return root;
}

// The first day on which a unit is no longer in use, when `curve[k]` is the chance to be in use k
// days after day 0.
size_t EndOf(const std::vector<double>& curve, double chance) {
  const auto it =
      std::partition_point(curve.begin(), curve.end(), [chance](double p) { return p >= chance; });
  return static_cast<size_t>(it - curve.begin());
}

// Day by the chances; their number when the rest is hit.
size_t DrawDay(const std::vector<double>& chances, double at) {
  for (size_t k = 0; k < chances.size(); ++k) {
    if (at < chances[k]) return k;
    at -= chances[k];
  }
  return chances.size();
}

}  // namespace

double InUse(const PathModel& model, const StandingOrder& order, size_t day) {
  const std::vector<double>& busy = model.busy[std::min(order.curve, model.busy.size() - 1)];
  double sum = 0;
  for (size_t s = 0; s < order.start_chance.size() && s < day; ++s)
    sum += order.start_chance[s] * busy[std::min(day - 1 - s, busy.size() - 1)];
  return order.goes * sum;
}

PathSet::PathSet(const PathModel& model, int paths, uint64_t seed) : horizon_(model.horizon) {
  const std::vector<double> root = Root(model.level_covariance);
  const auto blocks = static_cast<size_t>(std::lround(std::sqrt(root.size())));
  mean_.assign(horizon_, 0);
  wanted_.assign(static_cast<size_t>(std::max(paths, 1)) * horizon_, 0);
  std::vector<double> normal(blocks), factor(horizon_);
  for (int path = 0; path < std::max(paths, 1); ++path) {
    first_.push_back(uses_.size());
    Random random(Mix(seed, 1), static_cast<uint64_t>(path));
    double common = 1;
    if (model.doubt > 0) {
      const double square = model.doubt * model.doubt;
      common = random.Gamma(1 / square, square);
    }
    for (double& z : normal) z = random.Normal();
    for (size_t i = 0; i < horizon_; ++i) {
      const size_t b = std::min(i / kWeek, blocks > 0 ? blocks - 1 : 0);
      double log_level = 0;
      for (size_t k = 0; blocks > 0 && k <= b; ++k) log_level += root[b * blocks + k] * normal[k];
      // The rate is the mean over the level, so the draw must not raise it.
      const double half = blocks > 0 ? model.level_covariance[b * blocks + b] / 2 : 0;
      factor[i] = common * std::exp(log_level - half);
    }
    DrawPath(model, path, seed, factor);
  }
  first_.push_back(uses_.size());
  for (double& m : mean_) m /= std::max(paths, 1);
  orders_ /= std::max(paths, 1);
}

void PathSet::DrawPath(const PathModel& model, int path, uint64_t seed,
                       const std::vector<double>& factor) {
  const auto stream = [&](uint64_t kind, uint64_t item) {
    return Random(Mix(seed, Mix(kind, item)), static_cast<uint64_t>(path));
  };
  const size_t begin = uses_.size();
  for (size_t u = 0; u < model.still.size(); ++u) {
    Random random = stream(2, u);
    const size_t days = EndOf(model.still[u], random.Uniform());
    uses_.push_back({0, static_cast<int32_t>(days + 1)});
  }
  const auto go = [&](size_t day, size_t curve, double chance) {
    if (day > horizon_) return;
    const std::vector<double>& busy = model.busy[std::min(curve, model.busy.size() - 1)];
    const size_t length = EndOf(busy, chance);
    uses_.push_back({static_cast<int32_t>(day), static_cast<int32_t>(day + length)});
    orders_ += 1;
  };
  for (const StandingOrder& order : model.standing) {
    Random random = stream(3, order.stream);
    const double goes = random.Uniform(), start = random.Uniform(), length = random.Uniform();
    if (goes >= order.goes) continue;
    go(DrawDay(order.start_chance, start) + 1, order.curve, length);
  }
  for (size_t s = 0; s < horizon_ && s < model.rate.size(); ++s) {
    Random random = stream(4, s);
    double mean = model.rate[s] * factor[s];
    if (model.dispersion > 1.001 && mean > 0) {
      mean = random.Gamma(mean / (model.dispersion - 1), model.dispersion - 1);
    }
    const int64_t orders = random.Poisson(mean);
    for (int64_t k = 0; k < orders; ++k) {
      const double lag = random.Uniform(), length = random.Uniform();
      go(s + 1 + DrawDay(model.lag, lag), 0, length);
    }
  }
  std::stable_sort(uses_.begin() + static_cast<std::ptrdiff_t>(begin), uses_.end(),
                   [](const Use& a, const Use& b) { return a.start < b.start; });
  int32_t* wanted = wanted_.data() + static_cast<size_t>(path) * horizon_;
  std::vector<int32_t> change(horizon_ + 2, 0);
  for (size_t i = begin; i < uses_.size(); ++i) {
    const auto from = static_cast<size_t>(std::max(uses_[i].start, 1));
    const auto to = std::min(static_cast<size_t>(std::max(uses_[i].end, 1)), horizon_ + 1);
    if (from >= to) continue;
    ++change[from];
    --change[to];
  }
  int32_t now = 0;
  for (size_t d = 1; d <= horizon_; ++d) {
    now += change[d];
    wanted[d - 1] = now;
    mean_[d - 1] += now;
  }
}

double PathSet::ShortAtLeastOnce(int64_t units) const {
  int64_t count = 0;
  for (int p = 0; p < paths(); ++p) {
    const auto* w = wanted_.data() + static_cast<size_t>(p) * horizon_;
    count += std::any_of(w, w + horizon_, [&](int32_t n) { return n > units; }) ? 1 : 0;
  }
  return static_cast<double>(count) / paths();
}

std::vector<double> PathSet::ShortOnDay(int64_t units) const {
  std::vector<double> share(horizon_, 0);
  for (int p = 0; p < paths(); ++p)
    for (size_t d = 0; d < horizon_; ++d)
      share[d] += wanted_[static_cast<size_t>(p) * horizon_ + d] > units ? 1 : 0;
  for (double& s : share) s /= paths();
  return share;
}

std::vector<double> PathSet::ShortUnitDaysByPath(int64_t units) const {
  std::vector<double> days;
  for (int p = 0; p < paths(); ++p) {
    double sum = 0;
    for (size_t d = 0; d < horizon_; ++d)
      sum += static_cast<double>(
          std::max<int64_t>(0, wanted_[static_cast<size_t>(p) * horizon_ + d] - units));
    days.push_back(sum);
  }
  return days;
}

double PathSet::ShortUnitDays(int64_t units) const {
  double sum = 0;
  for (double days : ShortUnitDaysByPath(units)) sum += days;
  return sum / paths();
}

std::vector<double> PathSet::LostByPath(int64_t units) const {
  std::vector<double> lost;
  std::vector<int32_t> back(horizon_ + 2);
  for (int p = 0; p < paths(); ++p) {
    std::fill(back.begin(), back.end(), 0);
    int64_t in_use = 0;
    int32_t day = 0;
    double count = 0;
    for (size_t i = first_[static_cast<size_t>(p)]; i < first_[static_cast<size_t>(p) + 1]; ++i) {
      const Use& use = uses_[i];
      for (; day < use.start; ++day) in_use -= back[static_cast<size_t>(day) + 1];
      if (use.end <= use.start) continue;
      // Units that are out already are out, however many there are.
      if (use.start > 0 && in_use >= units) {
        count += 1;
        continue;
      }
      ++in_use;
      ++back[std::min(static_cast<size_t>(use.end), horizon_ + 1)];
    }
    lost.push_back(count);
  }
  return lost;
}

PathSet::Lost PathSet::LostWith(int64_t units) const {
  Lost result;
  result.orders = orders_;
  for (double lost : LostByPath(units)) result.lost += lost;
  result.lost /= paths();
  return result;
}

}  // namespace ferrule::plan
