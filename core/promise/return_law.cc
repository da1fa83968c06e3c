#include "core/promise/return_law.h"

#include <algorithm>
#include <cmath>

namespace ferrule::promise {
namespace {

constexpr int64_t kEarliest = -60;  // lateness that is told apart, days
constexpr int64_t kLatest = 60;
constexpr size_t kLandmarks = kLatest - kEarliest + 1;
constexpr int64_t kNear = 4;        // so near the due day every day is its own
constexpr size_t kEnough = 60;      // stays after which a landmark needs no neighbours
constexpr double kPriorWeight = 8;  // stays that the usual odds weigh
constexpr int64_t kWindow = 730;    // rentals that ended earlier teach nothing any more
// Chances a day of coming back: before the due day, on the days around it, later. Common practice,
// no source.
constexpr double kUsualBefore = 0.01;
constexpr double kUsualAround = 0.35;
constexpr double kUsualLater = 0.12;
constexpr int64_t kAround = 5;

size_t IndexOf(int64_t late) {
  return static_cast<size_t>(std::clamp(late, kEarliest, kLatest) - kEarliest);
}

using Stays = std::vector<std::vector<plan::Stay>>;

// One version of the due day, over the days on which it was the one that was known.
void AddVersion(const RentalSeen& rental, const RentalSeen::Due& due, int64_t known_until,
                int64_t today, Stays* stays) {
  const int64_t last_out = rental.returned ? *rental.returned - 1 : today;
  const int64_t first = std::max({due.known_from, rental.start, due.due + kEarliest});
  const int64_t last = std::min({known_until, last_out, today - 1, due.due + kLatest});
  for (int64_t day = first; day <= last; ++day) {
    const bool ended = rental.returned && *rental.returned <= today;
    const int64_t exit = (ended ? *rental.returned : today) - day;
    if (exit <= 0) continue;
    (*stays)[IndexOf(day - due.due)].push_back({static_cast<double>(exit), ended, 0});
  }
}

void AddRental(const RentalSeen& rental, int64_t today, Stays* stays) {
  for (size_t i = 0; i < rental.dues.size(); ++i) {
    const bool last = i + 1 == rental.dues.size();
    const int64_t until = last ? today : rental.dues[i + 1].known_from - 1;
    AddVersion(rental, rental.dues[i], until, today, &stays[rental.dues[i].agreed ? 1 : 0]);
  }
}

// A landmark's own stays, with those of its neighbours where they are few and the due day is far.
std::vector<plan::Stay> WithNeighbours(const Stays& stays, size_t index) {
  std::vector<plan::Stay> all = stays[index];
  const int64_t late = static_cast<int64_t>(index) + kEarliest;
  if (late >= -kNear && late <= kNear) return all;
  for (int64_t far = 1; far <= 20 && all.size() < kEnough; ++far) {
    for (int64_t other : {late - far, late + far}) {
      const bool same_side = (late < 0) == (other < 0) && std::abs(other) > kNear;
      if (!same_side || other < kEarliest || other > kLatest) continue;
      const auto& more = stays[IndexOf(other)];
      // Before the due day a neighbour's returns lie as much nearer or farther.
      for (plan::Stay stay : more) {
        if (late < 0) stay.exit = std::max(1.0, stay.exit + static_cast<double>(other - late));
        all.push_back(stay);
      }
    }
  }
  return all;
}

// P(ended within `ahead` | going on at `age`). Where every stay has ended the curve itself is the
// answer; beyond what was seen the tail's hazard goes on.
double EndedWithin(const plan::SurvivalCurve& curve, double age, double ahead) {
  const bool whole = !curve.steps().empty() && curve.steps().back().survival <= 0;
  const double going_on = curve.At(age);
  if (whole && going_on > 0) return 1 - curve.At(age + ahead) / going_on;
  return 1 - curve.Remaining(age, ahead);
}

double UsualHazard(int64_t late) {
  if (late < 0) return kUsualBefore;
  return late <= kAround ? kUsualAround : kUsualLater;
}

}  // namespace

ReturnLaw::ReturnLaw(const std::vector<RentalSeen>& rentals, const std::vector<TurnSeen>& turns,
                     int64_t today, int turnaround_days)
    : usual_turn_(1.0 / (std::max(0, turnaround_days) + 1)) {
  Stays stays[2] = {Stays(kLandmarks), Stays(kLandmarks)};
  for (const RentalSeen& rental : rentals) {
    if (rental.start > today || (rental.returned && *rental.returned < today - kWindow)) continue;
    ++rentals_;
    AddRental(rental, today, stays);
  }
  for (int kind : {0, 1}) {
    landmarks_[kind].resize(kLandmarks);
    for (size_t i = 0; i < kLandmarks; ++i) {
      const std::vector<plan::Stay> all = WithNeighbours(stays[kind], i);
      if (all.empty()) continue;
      // Whole days from 1 on are always an acceptable stay.
      if (auto curve = plan::ProductLimit(all); curve.ok()) {
        landmarks_[kind][i] = {*std::move(curve), static_cast<double>(all.size())};
      }
    }
  }
  std::vector<plan::Stay> turned;
  for (const TurnSeen& turn : turns) {
    const bool ready = turn.ready && *turn.ready <= today;
    const int64_t days = (ready ? *turn.ready : today) - turn.returned;
    if (days >= 0) turned.push_back({static_cast<double>(days), ready, 0});
  }
  if (auto curve = plan::ProductLimit(turned); curve.ok()) turns_ = *std::move(curve);
  turn_weight_ = static_cast<double>(turned.size());
}

double ReturnLaw::Usual(int64_t late, bool agreed, int64_t ahead) const {
  double out = 1;
  for (int64_t day = late + 1; day <= late + ahead; ++day) {
    // An agreed day is kept by most.
    const double hazard = agreed && day >= 0 && day <= 1 ? 0.6 : UsualHazard(day);
    out *= 1 - hazard;
  }
  return 1 - out;
}

double ReturnLaw::BackWithin(int64_t late, bool agreed, int64_t ahead) const {
  if (ahead <= 0) return 0;
  // Far before the due day the law is told from the earliest landmark on.
  if (late < kEarliest) {
    const int64_t until = kEarliest - late;
    return ahead <= until ? 0 : BackWithin(kEarliest, agreed, ahead - until);
  }
  const Landmark& landmark = landmarks_[agreed ? 1 : 0][IndexOf(late)];
  const double usual = Usual(late, agreed, ahead);
  if (landmark.weight <= 0) return usual;
  const double seen = EndedWithin(landmark.curve, 0, static_cast<double>(ahead));
  return (landmark.weight * seen + kPriorWeight * usual) / (landmark.weight + kPriorWeight);
}

double ReturnLaw::ReadyWithin(int64_t age, int64_t ahead) const {
  if (ahead < 0) return 0;
  const bool returning = age < 0;
  const double steps = static_cast<double>(ahead) + (returning ? 1 : 0);
  const double usual = 1 - std::pow(1 - usual_turn_, steps);
  if (turn_weight_ <= 0) return usual;
  const double seen =
      returning ? 1 - turns_.At(static_cast<double>(ahead))
                : EndedWithin(turns_, static_cast<double>(age), static_cast<double>(ahead));
  return (turn_weight_ * seen + kPriorWeight * usual) / (turn_weight_ + kPriorWeight);
}

std::vector<double> ReturnLaw::ReadyAfterRental(int64_t late, bool agreed, int64_t horizon) const {
  std::vector<double> back(static_cast<size_t>(horizon) + 1, 0);
  for (int64_t h = 0; h <= horizon; ++h) back[static_cast<size_t>(h)] = BackWithin(late, agreed, h);
  std::vector<double> turned(back.size(), 0);
  for (size_t k = 0; k < turned.size(); ++k) turned[k] = ReadyWithin(-1, static_cast<int64_t>(k));
  std::vector<double> ready(back.size(), 0);
  for (size_t h = 1; h < back.size(); ++h) {
    double sum = 0;
    for (size_t j = 1; j <= h; ++j) sum += std::max(0.0, back[j] - back[j - 1]) * turned[h - j];
    ready[h] = std::min(1.0, sum);
  }
  return ready;
}

}  // namespace ferrule::promise
