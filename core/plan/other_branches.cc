#include "core/plan/other_branches.h"

#include <algorithm>
#include <memory>
#include <numeric>

#include "core/plan/second_side.h"

namespace ferrule::plan {
namespace {

struct Lesson {
  OrderStream orders;
  LawEvidence wandering;
};

Lesson LessonOf(const OccupancyInput& input) {
  const std::vector<Booking> known = KnownAt(input.bookings, input.now);
  const int classes = ClassesOf(input, known);
  const SidesOf sides = TellSides(known, input.now, classes);
  Lesson lesson{StreamOf(known, sides, input.now, -1), {}};
  const OrderRates rates(lesson.orders, input.holidays, kDaysPerBlock);
  for (int c = 0; c < classes; ++c) {
    const OrderStream own = StreamOf(known, sides, input.now, c);
    if (own.Total() < kThinOrders) continue;
    lesson.wandering.Add(EvidenceOfLaws(BlocksOf(own, rates.Of(own).expected, 0), 1));
  }
  return lesson;
}

int64_t EndOf(const OrderStream& stream) {
  return stream.first + static_cast<int64_t>(stream.counts.size());
}

// The branches that were open together from some day on whose orders since then are the most.
struct Longest {
  OrderStream orders;
  std::vector<size_t> members;
};

Longest LongestTogether(const std::vector<Lesson>& lessons) {
  Longest best;
  if (lessons.empty()) return best;
  std::vector<size_t> by_first(lessons.size());
  std::iota(by_first.begin(), by_first.end(), 0);
  std::stable_sort(by_first.begin(), by_first.end(), [&](size_t a, size_t b) {
    return lessons[a].orders.first < lessons[b].orders.first;
  });
  const int64_t begin = lessons[by_first[0]].orders.first;
  int64_t end = begin;
  for (const Lesson& lesson : lessons) end = std::max(end, EndOf(lesson.orders));
  std::vector<double> sum(static_cast<size_t>(end - begin), 0);
  size_t members = 0;
  double most = -1;
  for (size_t i = 0; i < by_first.size(); ++i) {
    const OrderStream& added = lessons[by_first[i]].orders;
    const auto from = static_cast<size_t>(added.first - begin);
    for (size_t t = 0; t < added.counts.size(); ++t) sum[from + t] += added.counts[t];
    const double orders =
        std::accumulate(sum.begin() + static_cast<std::ptrdiff_t>(from), sum.end(), 0.0);
    if (orders <= most) continue;
    most = orders, members = i + 1;
    best.orders.first = added.first;
  }
  best.members.assign(by_first.begin(), by_first.begin() + static_cast<std::ptrdiff_t>(members));
  for (int64_t day = best.orders.first; day < end; ++day) {
    double orders = 0;
    for (const size_t b : best.members) orders += lessons[b].orders.At(day);
    best.orders.counts.push_back(orders);
  }
  return best;
}

}  // namespace

std::vector<OtherBranches> TellOthers(const std::vector<const OccupancyInput*>& branches) {
  std::vector<Lesson> lessons;
  LawEvidence wandering;
  for (const OccupancyInput* input : branches) {
    lessons.push_back(LessonOf(*input));
    wandering.Add(lessons.back().wandering);
  }
  const Longest together = LongestTogether(lessons);
  const auto depot = std::make_shared<DepotOrders>(together.orders, wandering);
  std::vector<OtherBranches> all;
  for (size_t b = 0; b < branches.size(); ++b) {
    OtherBranches& others = all.emplace_back();
    // What it has alone it is not told.
    if (together.members != std::vector<size_t>{b} && together.orders.Total() > 0)
      others.depot = depot;
    others.wandering = wandering;
    others.wandering.Remove(lessons[b].wandering);
  }
  return all;
}

}  // namespace ferrule::plan
