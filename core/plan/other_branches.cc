#include "core/plan/other_branches.h"

#include <algorithm>
#include <numeric>

#include "core/plan/second_side.h"

namespace ferrule::plan {
namespace {

// Days by which the records of branches opened together may begin apart.
constexpr int64_t kTogether = 60;

OtherBranches LessonOf(const OccupancyInput& input) {
  const std::vector<Booking> known = KnownAt(input.bookings, input.now);
  const int classes = ClassesOf(input, known);
  const SidesOf sides = TellSides(known, input.now, classes);
  OtherBranches lesson{StreamOf(known, sides, input.now, -1), {}};
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

// Adds to a sum that covers the stream's days.
void AddTo(OrderStream* sum, const OrderStream& stream) {
  for (size_t t = 0; t < stream.counts.size(); ++t)
    sum->counts[static_cast<size_t>(stream.first - sum->first) + t] += stream.counts[t];
}

// Of the days of `own` those from `first` on, without its own orders.
OrderStream Without(const OrderStream& own, const OrderStream& sum, int64_t first) {
  OrderStream rest{first, {}};
  for (int64_t day = first; day < EndOf(own); ++day)
    rest.counts.push_back(sum.counts[static_cast<size_t>(day - sum.first)] -
                          own.counts[static_cast<size_t>(day - own.first)]);
  return rest;
}

}  // namespace

std::vector<OtherBranches> TellOthers(const std::vector<const OccupancyInput*>& branches) {
  std::vector<OtherBranches> lessons;
  LawEvidence wandering;
  int64_t begin = kNotYet, end = 0;
  for (const OccupancyInput* input : branches) {
    lessons.push_back(LessonOf(*input));
    wandering.Add(lessons.back().wandering);
    begin = std::min(begin, lessons.back().orders.first);
    end = std::max(end, EndOf(lessons.back().orders));
  }
  std::vector<size_t> by_first(branches.size());
  std::iota(by_first.begin(), by_first.end(), 0);
  std::stable_sort(by_first.begin(), by_first.end(), [&](size_t a, size_t b) {
    return lessons[a].orders.first < lessons[b].orders.first;
  });
  std::vector<OtherBranches> all(branches.size());
  OrderStream sum{begin, {}};
  if (!branches.empty()) sum.counts.assign(static_cast<size_t>(end - begin), 0);
  size_t added = 0;
  for (const size_t b : by_first) {
    const OtherBranches& own = lessons[b];
    // All that opened before it or soon after are in the sum, itself among them.
    while (added < by_first.size() &&
           lessons[by_first[added]].orders.first <= own.orders.first + kTogether)
      AddTo(&sum, lessons[by_first[added++]].orders);
    const int64_t last_opened = lessons[by_first[added - 1]].orders.first;
    all[b].orders = Without(own.orders, sum, std::min(last_opened, EndOf(own.orders)));
    all[b].wandering = wandering;
    all[b].wandering.Remove(own.wandering);
  }
  return all;
}

}  // namespace ferrule::plan
