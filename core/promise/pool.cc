#include "core/promise/pool.h"

#include <algorithm>
#include <set>
#include <utility>

#include "core/promise/matching.h"

namespace ferrule::promise {
namespace {

// From these odds on a unit that is not asked for is counted on to serve a claim.
constexpr double kCountedOn = 0.9;

// Days on which claims are moved about in the search for the first one; a matching is the dear
// part.
constexpr int kMostMovings = 4;

bool Share(int64_t from_a, int64_t through_a, int64_t from_b, int64_t through_b) {
  return from_a <= through_b && from_b <= through_a;
}

double At(const std::vector<double>& by_day, int64_t index) {
  if (by_day.empty() || index < 0) return 0;
  return by_day[std::min(static_cast<size_t>(index), by_day.size() - 1)];
}

}  // namespace

Pool::Pool(int64_t today, std::vector<PoolUnit> units, std::vector<Claim> claims)
    : today_(today),
      units_(std::move(units)),
      claims_(std::move(claims)),
      claims_of_(units_.size()) {
  for (size_t i = 0; i < claims_.size(); ++i) {
    if (claims_[i].unit != kNoUnit)
      claims_of_[static_cast<size_t>(claims_[i].unit)].push_back(static_cast<int>(i));
  }
  for (std::vector<int>& of : claims_of_) {
    std::sort(of.begin(), of.end(), [this](int a, int b) {
      return claims_[static_cast<size_t>(a)].from < claims_[static_cast<size_t>(b)].from;
    });
  }
  for (const PoolUnit& unit : units_) all_eligible_ &= unit.eligible;
}

double Pool::ReadyOn(int unit, int64_t day) const {
  const auto u = static_cast<size_t>(unit);
  double odds = At(units_[u].ready, day - today_);
  for (int i : claims_of_[u]) {
    const Claim& claim = claims_[static_cast<size_t>(i)];
    if (claim.through >= day) break;
    // What it needs to be ready again after this claim, if it was ready for it.
    odds = At(units_[u].ready, claim.from - today_) * At(claim.again, day - claim.from);
  }
  return odds;
}

const plan::Pmf& Pool::ReadyUnits(int64_t day) const {
  const auto [it, is_new] = ready_units_.try_emplace(day);
  if (is_new) {
    std::vector<double> chances;
    for (size_t u = 0; u < units_.size(); ++u) {
      if (units_[u].eligible) chances.push_back(ReadyOn(static_cast<int>(u), day));
    }
    it->second = plan::PoissonBinomial(chances);
  }
  return it->second;
}

std::vector<int> Pool::Before(const Wish& wish) const {
  std::vector<int> before;
  for (size_t i = 0; i < claims_.size(); ++i) {
    const Claim& claim = claims_[i];
    if (claim.rank < wish.rank && Share(claim.from, claim.through, wish.from, wish.through)) {
      before.push_back(static_cast<int>(i));
    }
  }
  return before;
}

int Pool::Needed(const std::vector<int>& claims, int64_t day) const {
  std::vector<int> active;
  for (int i : claims) {
    const Claim& claim = claims_[static_cast<size_t>(i)];
    if (claim.from <= day && day <= claim.through) active.push_back(i);
  }
  if (all_eligible_) return static_cast<int>(active.size());
  std::vector<std::pair<int, int>> edges;
  for (size_t a = 0; a < active.size(); ++a) {
    const Claim& claim = claims_[static_cast<size_t>(active[a])];
    for (size_t u = 0; u < units_.size(); ++u) {
      if (units_[u].eligible) continue;
      const bool its_own = claim.unit == static_cast<int>(u);
      if (claim.bound && !its_own) continue;
      if (!its_own && ReadyOn(static_cast<int>(u), claim.from) < kCountedOn) continue;
      edges.emplace_back(static_cast<int>(a), static_cast<int>(u));
    }
  }
  int needed = 0;
  for (int mate : LargestMatching(active.size(), units_.size(), edges)) {
    needed += mate == kUnmatched ? 1 : 0;
  }
  return needed;
}

double Pool::Odds(const Wish& wish) const {
  const std::vector<int> before = Before(wish);
  std::set<int64_t> days = {wish.from};
  for (int i : before) {
    const int64_t from = claims_[static_cast<size_t>(i)].from;
    if (from > wish.from) days.insert(from);
  }
  double odds = 1;
  for (int64_t day : days) {
    const int64_t wanted = Needed(before, day) + wish.count;
    odds = std::min(odds, plan::Tail(ReadyUnits(day), wanted - 1));
  }
  return odds;
}

double Pool::OddsOf(int claim) const {
  const Claim& c = claims_[static_cast<size_t>(claim)];
  if (c.bound) return ReadyOn(c.unit, c.from);
  Wish wish;
  wish.from = std::max(c.from, today_);
  wish.through = std::max(c.through, wish.from);
  wish.rank = c.rank;
  return Odds(wish);
}

// A unit's days are its claims', whoever is served first.
bool Pool::IsFree(int unit, int64_t from, int64_t through) const {
  const std::vector<int>& of = claims_of_[static_cast<size_t>(unit)];
  return std::none_of(of.begin(), of.end(), [&](int i) {
    const Claim& claim = claims_[static_cast<size_t>(i)];
    return Share(claim.from, claim.through, from, through);
  });
}

std::vector<int> Pool::ByOdds(int64_t day) const {
  std::vector<std::pair<double, int>> order;
  for (size_t u = 0; u < units_.size(); ++u) {
    if (units_[u].eligible)
      order.emplace_back(ReadyOn(static_cast<int>(u), day), static_cast<int>(u));
  }
  std::stable_sort(order.begin(), order.end(), [this](const auto& a, const auto& b) {
    if (a.first != b.first) return a.first > b.first;
    const PoolUnit& unit_a = units_[static_cast<size_t>(a.second)];
    const PoolUnit& unit_b = units_[static_cast<size_t>(b.second)];
    return unit_a.preference != unit_b.preference ? unit_a.preference < unit_b.preference
                                                  : unit_a.unit < unit_b.unit;
  });
  std::vector<int> units;
  for (const auto& [odds, u] : order) units.push_back(u);
  return units;
}

std::optional<Placing> Pool::Place(const Wish& wish) const {
  std::optional<Placing> placing = PlaceAsItStands(wish);
  return placing ? placing : PlaceByMoving(wish);
}

std::optional<Placing> Pool::PlaceAsItStands(const Wish& wish) const {
  Placing placing;
  for (int u : ByOdds(wish.from)) {
    if (ReadyOn(u, wish.from) <= 0) break;
    if (!IsFree(u, wish.from, wish.through)) continue;
    placing.units.push_back(u);
    if (static_cast<int>(placing.units.size()) == wish.count) return placing;
  }
  return std::nullopt;
}

// Every unit's claims that share days with the wish move as one. Left are these bundles and the
// wish, right the units; an edge says that the unit is fit, can be ready, and has no other claim on
// those days.
std::optional<Placing> Pool::PlaceByMoving(const Wish& wish) const {
  struct Bundle {
    int unit;
    int64_t from, through;
    bool bound;
    std::vector<int> claims;
  };
  std::vector<Bundle> bundles;
  for (size_t u = 0; u < units_.size(); ++u) {
    Bundle bundle{static_cast<int>(u), INT64_MAX, INT64_MIN, false, {}};
    for (int i : claims_of_[u]) {
      const Claim& claim = claims_[static_cast<size_t>(i)];
      if (!Share(claim.from, claim.through, wish.from, wish.through)) continue;
      bundle.from = std::min(bundle.from, claim.from);
      bundle.through = std::max(bundle.through, claim.through);
      bundle.bound |= claim.bound;
      bundle.claims.push_back(i);
    }
    if (!bundle.claims.empty()) bundles.push_back(std::move(bundle));
  }
  std::vector<std::pair<int, int>> edges;
  const auto fixed = [&](int unit, int64_t from, int64_t through) {
    for (int i : claims_of_[static_cast<size_t>(unit)]) {
      const Claim& claim = claims_[static_cast<size_t>(i)];
      const bool moves = Share(claim.from, claim.through, wish.from, wish.through);
      if (!moves && Share(claim.from, claim.through, from, through)) {
        return true;
      }
    }
    return false;
  };
  for (size_t b = 0; b < bundles.size(); ++b) {
    const Bundle& bundle = bundles[b];
    // Its own unit first: what need not move stays.
    edges.emplace_back(static_cast<int>(b), bundle.unit);
    if (bundle.bound) continue;
    for (size_t u = 0; u < units_.size(); ++u) {
      const int unit = static_cast<int>(u);
      const bool fit = units_[u].eligible && unit != bundle.unit;
      // A promise moves to a unit that is at least as likely as its own.
      const double own = ReadyOn(bundle.unit, bundle.from);
      if (!fit || ReadyOn(unit, bundle.from) < own) continue;
      if (!fixed(unit, bundle.from, bundle.through)) edges.emplace_back(static_cast<int>(b), unit);
    }
  }
  for (int k = 0; k < wish.count; ++k) {
    for (size_t u = 0; u < units_.size(); ++u) {
      const int unit = static_cast<int>(u);
      if (!units_[u].eligible || ReadyOn(unit, wish.from) <= 0) continue;
      if (!fixed(unit, wish.from, wish.through)) {
        edges.emplace_back(static_cast<int>(bundles.size()) + k, unit);
      }
    }
  }
  const std::vector<int> mate =
      LargestMatching(bundles.size() + static_cast<size_t>(wish.count), units_.size(), edges);
  Placing placing;
  for (size_t b = 0; b < mate.size(); ++b) {
    if (mate[b] == kUnmatched) return std::nullopt;
    if (b >= bundles.size()) {
      placing.units.push_back(mate[b]);
    } else if (mate[b] != bundles[b].unit) {
      for (int claim : bundles[b].claims) placing.changes.push_back({claim, mate[b]});
    }
  }
  return placing;
}

std::optional<int64_t> Pool::Earliest(Wish wish, double odds, int64_t last) const {
  const int64_t length = wish.through - wish.from;
  int movings = 0;
  for (int64_t day = wish.from; day <= last; ++day) {
    wish.from = day;
    wish.through = day + length;
    if (Odds(wish) < odds) continue;
    if (PlaceAsItStands(wish)) return day;
    if (movings++ < kMostMovings && PlaceByMoving(wish)) return day;
  }
  return std::nullopt;
}

}  // namespace ferrule::promise
