#include "core/plan/stay_law.h"

#include <algorithm>

namespace ferrule::plan {
namespace {

constexpr size_t kDays = 500;       // curves go so far
constexpr int64_t kReach = 250;     // days before and after the due date that are told apart
constexpr double kPrior = 20;       // rentals that the pooled odds weigh
constexpr double kPriorMix = 10;    // rentals that the branch's mix of prescriptions weighs
constexpr int64_t kHistory = 1000;  // rentals that began earlier are left out unless still out
constexpr double kUsualOdds = .05;  // per day, where nothing at all is known
constexpr double kUsualWeight = .5;

// Ends and days at risk by day.
struct Odds {
  std::vector<double> ended = std::vector<double>(2 * kReach + 1, 0);
  std::vector<double> at_risk = std::vector<double>(2 * kReach + 1, 0);

  static size_t Index(int64_t day) {
    return static_cast<size_t>(std::clamp<int64_t>(day, -kReach, kReach) + kReach);
  }
  void Add(int64_t first, int64_t last, bool ends) {
    for (int64_t d = first; d <= last; ++d) at_risk[Index(d)] += 1;
    if (ends) ended[Index(last)] += 1;
  }
  // Over the days from `day` on: the tail of what was seen, where single days are too thin.
  double TailOdds(int64_t day) const {
    double e = 1, n = 10;
    for (size_t i = Index(day); i < ended.size(); ++i) e += ended[i], n += at_risk[i];
    return e / n;
  }
  // Day from which less than a hundredth of the ends are left.
  int64_t TailStart() const {
    double total = 0, rest = 0;
    for (double e : ended) total += e;
    int64_t day = kReach;
    for (size_t i = ended.size(); i-- > 0 && rest <= .01 * total; --day) rest += ended[i];
    return day + 1;
  }
};

}  // namespace

StayLaw::StayLaw(const std::vector<Booking>& known, int64_t now, const StayChange& change) {
  Odds relative, plain, turning;
  std::map<Key, Odds> own;
  std::map<int, Mix> mixes;
  for (const Booking& b : known) {
    if (b.start > now) continue;
    const bool back = b.returned <= now, ready = b.ready <= now;
    if (b.start <= now - kHistory && (back || ready)) continue;
    const int64_t last = std::max<int64_t>(0, (back    ? b.returned
                                               : ready ? b.ready
                                                       : now) -
                                                  b.start);
    plain.Add(1, last, back);
    // A prescription of which nothing is known is on the plain axis, whose day 0 is the start.
    relative.Add(1 - b.prescribed_days, last - b.prescribed_days, back);
    for (const int device_class : {kAnyClass, b.device_class}) {
      own[{device_class, b.prescribed_days}].Add(1 - b.prescribed_days, last - b.prescribed_days,
                                                 back);
      if (b.start > now - 365) mixes[device_class][b.prescribed_days] += 1;
    }
    if (back) turning.Add(1, std::max<int64_t>(0, (ready ? b.ready : now) - b.returned), ready);
  }
  // A turnaround may end on the day of the return; day 0 then is the only chance to do so.
  double same_day = 0, returns = 0;
  for (const Booking& b : known)
    if (b.returned <= now && b.start > now - kHistory)
      returns += 1, same_day += b.ready <= b.returned ? 1 : 0;
  turning_.assign(kDays, 0);
  double left = 1 - same_day / (returns + 1);
  const int64_t turning_tail = turning.TailStart();
  for (size_t k = 0; k < kDays; ++k) {
    const int64_t day = static_cast<int64_t>(k);
    if (k > 0) {
      const size_t i = Odds::Index(day);
      const double odds = day >= turning_tail ? turning.TailOdds(turning_tail)
                                              : (turning.ended[i] + kUsualWeight * .3) /
                                                    (turning.at_risk[i] + kUsualWeight);
      left *= 1 - std::min(odds, 1 - 1e-9);
    }
    turning_[k] = left;
  }
  ChangeTurning(change.turning_days);
  own.try_emplace({kAnyClass, 0});
  if (change.to_days > 0) own.try_emplace({kAnyClass, change.to_days});
  for (const auto& [key, odds] : own) {
    const auto [device_class, prescribed] = key;
    const Odds& pool = prescribed > 0 ? relative : plain;
    const Odds& like = own.at({kAnyClass, prescribed});
    const int64_t tail = pool.TailStart();
    const double tail_odds = pool.TailOdds(tail);
    Curve curve;
    double out = 1;
    for (size_t k = 0; k < kDays; ++k) {
      const int64_t day = static_cast<int64_t>(k) - prescribed;
      const size_t i = Odds::Index(day);
      if (k > 0) {
        double chance =
            (pool.ended[i] + kUsualWeight * kUsualOdds) / (pool.at_risk[i] + kUsualWeight);
        chance = (like.ended[i] + kPrior * chance) / (like.at_risk[i] + kPrior);
        if (device_class != kAnyClass)
          chance = (odds.ended[i] + kPrior * chance) / (odds.at_risk[i] + kPrior);
        if (day >= tail) chance = tail_odds;
        out *= 1 - std::min(chance, 1 - 1e-9);
      }
      curve.out.push_back(out);
    }
    PutBusy(&curve);
    curves_[key] = std::move(curve);
  }
  const Mix branch = mixes[kAnyClass];
  for (const auto& [device_class, mix] : mixes)
    busy_any_[device_class] = BusyOf(device_class, mix, branch, change);
}

void StayLaw::PutBusy(Curve* curve) const {
  // Turnarounds so long that nothing is left of them add nothing.
  size_t longest = 0;
  while (longest < kDays && turning_[longest] > 1e-12) ++longest;
  curve->busy = curve->out;
  for (size_t k = 1; k < kDays; ++k)
    for (size_t j = k > longest ? k - longest : 1; j <= k; ++j)
      curve->busy[k] += (curve->out[j - 1] - curve->out[j]) * turning_[k - j];
}

std::vector<double> StayLaw::BusyOf(int device_class, const Mix& own, const Mix& branch,
                                    const StayChange& change) const {
  const auto total = [](const Mix& mix) {
    double sum = 0;
    for (const auto& [prescribed, rentals] : mix) sum += rentals;
    return sum;
  };
  const double mine = total(own), all = total(branch);
  Mix share;
  if (all == 0) share[0] = 1;
  for (const auto& [prescribed, rentals] : branch) {
    const auto it = own.find(prescribed);
    share[prescribed] =
        ((it != own.end() ? it->second : 0) + kPriorMix * rentals / all) / (mine + kPriorMix);
  }
  if (change.to_days > 0) {
    double moved = 0;
    for (auto& [prescribed, part] : share) {
      if (change.from_days > 0 && prescribed != change.from_days) continue;
      moved += part * change.share;
      part -= part * change.share;
    }
    share[change.to_days] += moved;
  }
  std::vector<double> busy(kDays, 0);
  for (const auto& [prescribed, part] : share)
    for (size_t k = 0; k < kDays; ++k) busy[k] += part * Of(device_class, prescribed).busy[k];
  return busy;
}

// A turnaround of no more days than are taken off ends on the day of the return.
void StayLaw::ChangeTurning(int days) {
  const std::vector<double> was = turning_;
  for (size_t k = 0; days != 0 && k < turning_.size(); ++k) {
    const int64_t from = static_cast<int64_t>(k) - days;
    turning_[k] = from < 0 ? 1 : was[std::min<size_t>(static_cast<size_t>(from), was.size() - 1)];
  }
}

const StayLaw::Curve& StayLaw::Of(int device_class, int prescribed_days) const {
  for (const Key& key : {Key{device_class, prescribed_days}, Key{kAnyClass, prescribed_days}})
    if (const auto it = curves_.find(key); it != curves_.end()) return it->second;
  return curves_.at({kAnyClass, 0});
}

namespace {
double Beyond(const std::vector<double>& curve, int64_t k) {
  if (k < 0) return 1;
  return curve[std::min<size_t>(static_cast<size_t>(k), curve.size() - 1)];
}
}  // namespace

double StayLaw::Out(int device_class, int prescribed_days, int64_t k) const {
  return Beyond(Of(device_class, prescribed_days).out, k);
}
double StayLaw::Turning(int64_t k) const { return Beyond(turning_, k); }
double StayLaw::Busy(int device_class, int prescribed_days, int64_t k) const {
  return Beyond(Of(device_class, prescribed_days).busy, k);
}
double StayLaw::BusyAny(int device_class, int64_t k) const {
  const auto it = busy_any_.find(device_class);
  return Beyond(it != busy_any_.end() ? it->second : busy_any_.at(kAnyClass), k);
}

double StayLaw::StillBusy(int device_class, int prescribed_days, int64_t age, int64_t ahead) const {
  const std::vector<double>& out = Of(device_class, prescribed_days).out;
  // Beyond the end of the curve the last day stands for all later ones.
  age = std::clamp<int64_t>(age, 0, static_cast<int64_t>(out.size()) - ahead - 2);
  if (age < 0 || ahead <= 0) return 1;
  const double now = Beyond(out, age);
  if (!(now > 1e-250)) return Turning(ahead);
  double busy = Beyond(out, age + ahead);
  for (int64_t j = age + 1; j <= age + ahead; ++j)
    busy += (Beyond(out, j - 1) - Beyond(out, j)) * Turning(age + ahead - j);
  return std::min(1.0, busy / now);
}

double StayLaw::StillTurning(int64_t age, int64_t ahead) const {
  age = std::clamp<int64_t>(age, 0, static_cast<int64_t>(turning_.size()) - ahead - 2);
  if (age < 0 || ahead <= 0) return 1;
  const double now = Turning(age);
  return now > 1e-250 ? Turning(age + ahead) / now : .5;
}

}  // namespace ferrule::plan
