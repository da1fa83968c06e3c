#include "core/plan/second_side.h"

#include <algorithm>
#include <cmath>
#include <map>
#include <utility>

namespace ferrule::plan {
namespace {

constexpr int kWeeks = 104;
constexpr int kNoneBefore = 4;
constexpr double kUsualShare = .25;
constexpr double kPriorSides = 4;  // second sides that the usual share weighs
constexpr double kPrior = 40;      // patient-weeks that the usual hazard weighs in each week

// The hazard that gives half of the usual share in the first year, half in the second.
double UsualHazard(int week) {
  if (week < kNoneBefore) return 0;
  const double weeks = week < kWeeks / 2 ? kWeeks / 2 - kNoneBefore : kWeeks / 2;
  const double half = kUsualShare / 2;
  const double before = week < kWeeks / 2 ? half / weeks * (week - kNoneBefore)
                                          : half + half / weeks * (week - kWeeks / 2);
  return half / weeks / (1 - before);
}

}  // namespace

SecondSideLaw::SecondSideLaw(const std::vector<FirstSide>& sides, int64_t now) {
  std::vector<double> events(kWeeks, 0), at_risk(kWeeks, 0);
  for (const FirstSide& side : sides) {
    if (side.done > now) continue;
    const bool came = side.second <= now;
    const int64_t days = (came ? side.second : now) - side.done;
    if (days < 0) continue;
    const int64_t weeks = std::min<int64_t>(days / 7, kWeeks);
    // A week that has only begun says nothing yet about whoever has not come back in it.
    for (int64_t w = 0; w < weeks; ++w) at_risk[static_cast<size_t>(w)] += 1;
    if (!came || weeks >= kWeeks) continue;
    at_risk[static_cast<size_t>(weeks)] += 1;
    events[static_cast<size_t>(weeks)] += 1;
  }
  // How many come back shows long before it shows when: the usual hazards are scaled as a whole
  // before thin weeks are drawn to them.
  double came = kPriorSides, usual = kPriorSides;
  for (int w = 0; w < kWeeks; ++w) {
    came += events[static_cast<size_t>(w)];
    usual += at_risk[static_cast<size_t>(w)] * UsualHazard(w);
  }
  double left = 1;
  for (int w = 0; w < kWeeks; ++w) {
    const auto i = static_cast<size_t>(w);
    const double hazard =
        (events[i] + kPrior * std::min(1.0, came / usual * UsualHazard(w))) / (at_risk[i] + kPrior);
    hazard_.push_back(hazard);
    left *= 1 - hazard;
    survival_.push_back(left);
  }
}

double SecondSideLaw::Within(int weeks) const {
  if (weeks <= 0) return 0;
  return 1 - survival_[static_cast<size_t>(std::min(weeks, kWeeks)) - 1];
}

// A week's hazard spread evenly over its days.
double SecondSideLaw::Daily(int64_t days) const {
  const int64_t week = days / 7;
  if (days < 0 || week >= kWeeks) return 0;
  return 1 - std::pow(1 - hazard_[static_cast<size_t>(week)], 1.0 / 7);
}

std::vector<double> SecondSideLaw::OfComing(const std::vector<double>& first) const {
  std::vector<double> expected(first.size(), 0);
  double left = 1;
  for (size_t after = 1; after < first.size(); ++after) {
    const double chance = left * Daily(static_cast<int64_t>(after));
    left -= chance;
    for (size_t d = after; chance > 0 && d < first.size(); ++d)
      expected[d] += first[d - after] * chance;
  }
  return expected;
}

std::vector<double> SecondSideLaw::Expected(const std::vector<FirstSide>& sides, int64_t now,
                                            int days) const {
  std::vector<double> expected(static_cast<size_t>(std::max(days, 0)), 0);
  for (const FirstSide& side : sides) {
    if (side.done > now || side.second <= now) continue;
    double left = 1;
    for (size_t d = 0; d < expected.size(); ++d) {
      const int64_t after = now + 1 + static_cast<int64_t>(d) - side.done;
      if (after >= 7 * kWeeks) break;
      const double daily = Daily(after);
      expected[d] += left * daily;
      left *= 1 - daily;
    }
  }
  return expected;
}

SidesOf TellSides(const std::vector<Booking>& known, int64_t now, int classes) {
  SidesOf result;
  result.is_second.assign(known.size(), 0);
  result.first.resize(static_cast<size_t>(std::max(classes, 1)));
  std::map<std::pair<uint64_t, int>, std::vector<size_t>> of_patient;
  for (size_t i = 0; i < known.size(); ++i) {
    const Booking& b = known[i];
    const bool stands = b.changed > now || b.refused;
    if (b.patient == 0 || b.side == 0 || b.exchange || !stands) continue;
    of_patient[{b.patient, b.device_class}].push_back(i);
  }
  for (auto& [patient, bookings] : of_patient) {
    std::stable_sort(bookings.begin(), bookings.end(),
                     [&](size_t a, size_t b) { return known[a].surgery < known[b].surgery; });
    const Booking& first = known[bookings.front()];
    FirstSide side{first.surgery, INT64_MAX, false};
    for (const size_t i : bookings) {
      const int64_t after = known[i].surgery - first.surgery;
      if (known[i].side == first.side || after < 7 * kNoneBefore || after > 7 * kWeeks) continue;
      result.is_second[i] = 1;
      side.second = std::min(side.second, known[i].surgery);
      side.second_booked = true;
    }
    if (first.surgery <= now) result.first[static_cast<size_t>(patient.second)].push_back(side);
  }
  return result;
}

}  // namespace ferrule::plan
