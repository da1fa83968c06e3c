#include "core/promise/open_days.h"

#include <cstddef>
#include <utility>

namespace ferrule::promise {
namespace {

constexpr size_t kEnough = 50;
constexpr double kLeastShare = 0.2;
constexpr int64_t kLongestPause = 60;  // days off in a row that are believed

}  // namespace

int WeekdayOf(int64_t day) { return static_cast<int>(((day + 3) % 7 + 7) % 7); }

OpenDays::OpenDays(const std::vector<int64_t>& done_on, std::set<int64_t> days_off)
    : days_off_(std::move(days_off)) {
  if (done_on.size() < kEnough) return;
  std::array<int64_t, 7> counts{};
  for (int64_t day : done_on) ++counts[static_cast<size_t>(WeekdayOf(day))];
  const double share = static_cast<double>(done_on.size()) / 7;
  // Something was done on some day, so one at least stays open.
  for (size_t w = 0; w < counts.size(); ++w) {
    open_[w] = static_cast<double>(counts[w]) >= kLeastShare * share;
  }
}

bool OpenDays::IsOpen(int64_t day) const {
  return open_[static_cast<size_t>(WeekdayOf(day))] && !days_off_.contains(day);
}

int64_t OpenDays::Between(int64_t from, int64_t through) const {
  if (through <= from) return 0;
  int64_t a_week = 0;
  for (bool open : open_) a_week += open ? 1 : 0;
  const int64_t weeks = (through - from) / 7;
  int64_t open = weeks * a_week;
  for (int64_t day = from + 7 * weeks + 1; day <= through; ++day) {
    open += open_[static_cast<size_t>(WeekdayOf(day))] ? 1 : 0;
  }
  for (auto it = days_off_.upper_bound(from); it != days_off_.end() && *it <= through; ++it) {
    open -= open_[static_cast<size_t>(WeekdayOf(*it))] ? 1 : 0;
  }
  return open;
}

int64_t OpenDays::NextAfter(int64_t day) const {
  for (int64_t next = day + 1; next <= day + kLongestPause; ++next) {
    if (IsOpen(next)) return next;
  }
  return day + 1;
}

}  // namespace ferrule::promise
