#include "core/plan/replay.h"

#include <algorithm>
#include <cmath>

#include "core/plan/random.h"

namespace ferrule::plan {
namespace {

constexpr int64_t kBlock = 28;

// Orders by block of the window, days counted from the block's first.
std::vector<std::vector<ReplayOrder>> Blocks(const std::vector<ReplayOrder>& orders, int64_t first,
                                             int64_t count) {
  std::vector<std::vector<ReplayOrder>> blocks(static_cast<size_t>(count));
  for (const ReplayOrder& order : orders) {
    const int64_t since = order.day - first;
    if (since < 0 || since >= count * kBlock) continue;
    blocks[static_cast<size_t>(since / kBlock)].push_back({since % kBlock, order.length});
  }
  return blocks;
}

struct Moments {
  double sum = 0, squares = 0;
  void Add(double x) { sum += x, squares += x * x; }
  double Deviation(int n) const {
    const double mean = sum / n;
    return std::sqrt(std::max(0.0, squares / n - mean * mean));
  }
};

double Share(const ReplayResult& result) {
  return result.orders > 0 ? result.lost / result.orders : 0;
}

}  // namespace

ReplayResult Replay(const std::vector<ReplayOrder>& orders, int64_t first, int64_t last,
                    int64_t units) {
  ReplayResult result;
  if (last < first) return result;
  const auto days = static_cast<size_t>(last - first + 1);
  std::vector<std::vector<int64_t>> wanted(days);
  for (const ReplayOrder& order : orders)
    if (order.day >= first && order.day <= last)
      wanted[static_cast<size_t>(order.day - first)].push_back(order.length);
  std::vector<int64_t> back(days + 1, 0);
  int64_t in_use = 0;
  for (size_t d = 0; d < days; ++d) {
    in_use -= back[d];
    for (const int64_t length : wanted[d]) {
      result.orders += 1;
      if (length <= 0) continue;
      const int64_t end =
          std::min<int64_t>(static_cast<int64_t>(d) + length, static_cast<int64_t>(days));
      const auto used = static_cast<double>(end - static_cast<int64_t>(d));
      if (in_use >= units) {
        result.lost += 1;
        result.lost_unit_days += used;
        continue;
      }
      ++in_use;
      ++back[static_cast<size_t>(end)];
      result.used_unit_days += used;
    }
  }
  return result;
}

ReplayError PairedError(const std::vector<ReplayOrder>& base, int64_t base_units,
                        const std::vector<ReplayOrder>& changed, int64_t changed_units,
                        int64_t first, int64_t last, int draws, uint64_t seed) {
  const int64_t count = (last - first + 1) / kBlock;
  if (count < 2 || draws < 2) return {};
  const auto a = Blocks(base, first, count), b = Blocks(changed, first, count);
  Moments lost, share, used;
  for (int draw = 0; draw < draws; ++draw) {
    Random random(seed, static_cast<uint64_t>(draw));
    std::vector<ReplayOrder> one, other;
    for (int64_t k = 0; k < count; ++k) {
      const auto pick = static_cast<size_t>(random.Uniform() * static_cast<double>(count));
      for (const ReplayOrder& o : a[pick]) one.push_back({k * kBlock + o.day, o.length});
      for (const ReplayOrder& o : b[pick]) other.push_back({k * kBlock + o.day, o.length});
    }
    const ReplayResult before = Replay(one, 0, count * kBlock - 1, base_units);
    const ReplayResult after = Replay(other, 0, count * kBlock - 1, changed_units);
    lost.Add(after.lost - before.lost);
    share.Add(Share(after) - Share(before));
    used.Add(after.used_unit_days - before.used_unit_days);
  }
  return {lost.Deviation(draws), share.Deviation(draws), used.Deviation(draws)};
}

}  // namespace ferrule::plan
