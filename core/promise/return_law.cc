#include "core/promise/return_law.h"

#include <algorithm>
#include <cmath>
#include <utility>

namespace ferrule::promise {
namespace {

constexpr int64_t kEarliest = -60;  // lateness that is told apart, days
constexpr int64_t kLatest = 60;
constexpr size_t kLandmarks = kLatest - kEarliest + 1;
constexpr int64_t kNear = 4;          // so near the due day every day is its own
constexpr size_t kEnough = 60;        // stays after which a landmark needs no neighbours
constexpr double kPriorWeight = 8;    // stays that the usual odds weigh
constexpr int64_t kWindow = 730;      // rentals that ended earlier teach nothing any more
constexpr int64_t kFarthest = 200;    // days ahead that a landmark tells apart
constexpr double kLeastAtRisk = 5;    // stays below which a day's chance is the tail's
constexpr double kPriorReturns = 20;  // returns that hold a weekday's factor to 1
constexpr double kMostADay = 0.98;
// Chances a day of coming back: before the due day, on the days around it, later. Common practice,
// no source.
constexpr double kUsualBefore = 0.01;
constexpr double kUsualAround = 0.35;
constexpr double kUsualLater = 0.12;
constexpr double kUsualAgreed = 0.6;  // on an agreed day and the next one
constexpr int64_t kAround = 5;

size_t IndexOf(int64_t late) {
  return static_cast<size_t>(std::clamp(late, kEarliest, kLatest) - kEarliest);
}

double UsualHazard(int64_t late, bool agreed) {
  if (agreed && late >= 0 && late <= 1) return kUsualAgreed;
  if (late < 0) return kUsualBefore;
  return late <= kAround ? kUsualAround : kUsualLater;
}

}  // namespace

// From a landmark's day until the return, or until today.
struct ReturnLaw::Stay {
  int64_t days = 0;
  bool ended = false;
  int weekday = 0;  // of the landmark's day
};

void ReturnLaw::AddRental(const RentalSeen& rental, int64_t today, Stays* stays) {
  const bool ended = rental.returned && *rental.returned <= today;
  const int64_t last_out = ended ? *rental.returned - 1 : today - 1;
  for (size_t i = 0; i < rental.dues.size(); ++i) {
    const RentalSeen::Due& due = rental.dues[i];
    const bool last = i + 1 == rental.dues.size();
    const int64_t until = last ? last_out : std::min(last_out, rental.dues[i + 1].known_from - 1);
    const int64_t first = std::max({due.known_from, rental.start, due.due + kEarliest});
    for (int64_t day = first; day <= std::min(until, due.due + kLatest); ++day) {
      const int64_t days = (ended ? *rental.returned : today) - day;
      stays[due.agreed ? 1 : 0][IndexOf(day - due.due)].push_back({days, ended, WeekdayOf(day)});
    }
  }
}

// A landmark's own stays, with those of its neighbours where they are few and the due day is far.
std::vector<ReturnLaw::Stay> ReturnLaw::WithNeighbours(const Stays& stays, size_t index) {
  std::vector<Stay> all = stays[index];
  const int64_t late = static_cast<int64_t>(index) + kEarliest;
  if (late >= -kNear && late <= kNear) return all;
  for (int64_t far = 1; far <= 20 && all.size() < kEnough; ++far) {
    for (int64_t other : {late - far, late + far}) {
      const bool same_side = (late < 0) == (other < 0) && std::abs(other) > kNear;
      if (!same_side || other < kEarliest || other > kLatest) continue;
      for (Stay stay : stays[IndexOf(other)]) {
        // Before the due day a neighbour's returns lie as much nearer or farther; they keep their
        // weekday.
        if (late < 0) {
          const int64_t days = std::max<int64_t>(1, stay.days + other - late);
          stay.weekday = static_cast<int>(((stay.weekday + stay.days - days) % 7 + 7) % 7);
          stay.days = days;
        }
        all.push_back(stay);
      }
    }
  }
  return all;
}

// Returns of each weekday against what the lateness alone would have them be; every rental counts
// once for each day that it was out.
void ReturnLaw::LearnWeekdays(const Stays* stays) {
  std::array<double, 7> expected{};
  std::array<double, 7> seen{};
  double all = 0;
  for (int kind : {0, 1}) {
    for (const std::vector<Stay>& at : stays[kind]) {
      double back = 0;
      for (const Stay& stay : at) back += stay.ended && stay.days == 1 ? 1 : 0;
      if (at.empty() || back == 0) continue;
      const double chance = back / static_cast<double>(at.size());
      for (const Stay& stay : at) {
        const auto next = static_cast<size_t>((stay.weekday + 1) % 7);
        expected[next] += chance;
        seen[next] += stay.ended && stay.days == 1 ? 1 : 0;
      }
      all += back;
    }
  }
  if (all == 0) return;
  for (size_t w = 0; w < weekday_.size(); ++w) {
    weekday_[w] = (seen[w] + kPriorReturns / 7) / (expected[w] + kPriorReturns / 7);
  }
}

ReturnLaw::Landmark ReturnLaw::Learn(const std::vector<Stay>& stays) const {
  Landmark landmark;
  landmark.weight = static_cast<double>(stays.size());
  std::vector<double> ended(kFarthest + 1, 0);
  std::vector<double> exposed(kFarthest + 1, 0);  // by the factors of the days
  std::vector<double> at_risk(kFarthest + 1, 0);
  for (const Stay& stay : stays) {
    const int64_t days = std::min(stay.days, kFarthest);
    for (int64_t k = 1; k <= days; ++k) {
      exposed[static_cast<size_t>(k)] += weekday_[static_cast<size_t>((stay.weekday + k) % 7)];
      at_risk[static_cast<size_t>(k)] += 1;
    }
    if (stay.ended && stay.days <= kFarthest) ended[static_cast<size_t>(stay.days)] += 1;
  }
  for (size_t k = 1; k < ended.size() && at_risk[k] > 0; ++k) {
    const bool enough = at_risk[k] >= kLeastAtRisk || landmark.weight < 2 * kLeastAtRisk;
    if (!enough) break;
    landmark.hazard.push_back(exposed[k] > 0 ? ended[k] / exposed[k] : 0);
  }
  // Beyond what is told day by day: the chance over the last quarter of the days at risk.
  double total = 0;
  for (double risk : at_risk) total += risk;
  double risk = 0;
  double back = 0;
  for (size_t k = ended.size() - 1; k > 0 && risk < 0.25 * total; --k) {
    risk += at_risk[k];
    back += ended[k];
  }
  landmark.tail = (back + 1) / (risk + 10);
  return landmark;
}

ReturnLaw::ReturnLaw(const std::vector<RentalSeen>& rentals, const std::vector<TurnSeen>& turns,
                     int64_t today, int turnaround_days, std::set<int64_t> days_off)
    : turn_(turns, today, turnaround_days, std::move(days_off)) {
  Stays stays[2] = {Stays(kLandmarks), Stays(kLandmarks)};
  for (const RentalSeen& rental : rentals) {
    if (rental.start > today || (rental.returned && *rental.returned < today - kWindow)) continue;
    ++rentals_;
    AddRental(rental, today, stays);
  }
  LearnWeekdays(stays);
  for (int kind : {0, 1}) {
    landmarks_[kind].resize(kLandmarks);
    for (size_t i = 0; i < kLandmarks; ++i) {
      landmarks_[kind][i] = Learn(WithNeighbours(stays[kind], i));
    }
  }
}

// P(back by the end of today + 0, 1, ... horizon).
std::vector<double> ReturnLaw::BackBy(int64_t today, int64_t late, bool agreed,
                                      int64_t horizon) const {
  std::vector<double> back(static_cast<size_t>(std::max<int64_t>(horizon, 0)) + 1, 0);
  // Far before the due day the law is told from the earliest landmark on.
  const int64_t skipped = std::max<int64_t>(0, kEarliest - late);
  const Landmark& landmark = landmarks_[agreed ? 1 : 0][IndexOf(late)];
  double seen = 1;
  double usual = 1;
  for (int64_t ahead = skipped + 1; ahead <= horizon; ++ahead) {
    const auto k = static_cast<size_t>(ahead - skipped - 1);
    const double hazard = k < landmark.hazard.size() ? landmark.hazard[k] : landmark.tail;
    seen *= 1 - std::min(kMostADay, hazard * Factor(today + ahead));
    usual *= 1 - UsualHazard(late + ahead, agreed);
    back[static_cast<size_t>(ahead)] =
        1 - (landmark.weight * seen + kPriorWeight * usual) / (landmark.weight + kPriorWeight);
  }
  return back;
}

double ReturnLaw::BackWithin(int64_t today, int64_t late, bool agreed, int64_t ahead) const {
  return BackBy(today, late, agreed, ahead).back();
}

std::vector<double> ReturnLaw::ReadyAfterRental(int64_t today, int64_t late, bool agreed,
                                                int64_t horizon) const {
  const std::vector<double> back = BackBy(today, late, agreed, horizon);
  // Turnarounds go by open days: the odds of each number of them are looked up once.
  std::vector<int64_t> open(back.size(), 0);
  for (size_t h = 1; h < back.size(); ++h) {
    open[h] = open[h - 1] + (turn_.open_days().IsOpen(today + static_cast<int64_t>(h)) ? 1 : 0);
  }
  std::vector<double> turned(static_cast<size_t>(open.back()) + 1, 0);
  for (size_t n = 0; n < turned.size(); ++n) {
    turned[n] = turn_.FromPatientWithin(static_cast<int64_t>(n));
  }
  std::vector<double> ready(back.size(), 0);
  for (size_t h = 1; h < back.size(); ++h) {
    double sum = 0;
    for (size_t j = 1; j <= h; ++j) {
      sum += std::max(0.0, back[j] - back[j - 1]) * turned[static_cast<size_t>(open[h] - open[j])];
    }
    ready[h] = std::min(1.0, std::max(sum, ready[h - 1]));
  }
  return ready;
}

}  // namespace ferrule::promise
