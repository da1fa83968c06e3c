// The pool of a class of device at one branch over the coming days: units with their odds of being
// ready, and who has claims on them. Says with which odds one more claim can be served, on which
// unit, and what would have to move for it. Values only.
#pragma once

#include <cstdint>
#include <map>
#include <optional>
#include <string>
#include <vector>

#include "core/plan/pmf.h"

namespace ferrule::promise {

// Days are day numbers. "Ready on a day" means ready when that day begins.

struct PoolUnit {
  std::string unit;
  // Odds that it is ready on day 0, 1, ... from the pool's today on, apart from claims; never
  // falling. Beyond the last one the last one holds.
  std::vector<double> ready;
  // Fit for what is asked. Others serve claims alone.
  bool eligible = true;
  // Of two that are as likely the one with the smaller preference is taken.
  int preference = 0;
};

// Who else is to have a unit.
struct Claim {
  std::string order;
  int64_t from = 0;
  int64_t through = 0;  // the unit is another's from the day after
  bool firm = false;
  // The unit that was promised; kNoUnit for one that only waits.
  int unit = -1;
  // Whether no other unit may serve it: it stands on the shelf for this order.
  bool bound = false;
  // Chance by day that its unit is ready again, counted from `from`: index 0 is that day.
  std::vector<double> again;
  // Smaller is served first.
  int64_t rank = 0;
};
inline constexpr int kNoUnit = -1;

struct Wish {
  int64_t from = 0;
  int64_t through = 0;
  int count = 1;
  // Claims of a greater rank come after it: they do not lower its odds. A unit's days are its
  // claims' all the same.
  int64_t rank = INT64_MAX;
};

// A claim that changes its unit.
struct Change {
  int claim;
  int to_unit;
};

// How a wish can be served.
struct Placing {
  std::vector<int> units;  // one for each that is wanted
  std::vector<Change> changes;
};

class Pool {
 public:
  // Claims may be in any order; those without a unit take no place but count.
  Pool(int64_t today, std::vector<PoolUnit> units, std::vector<Claim> claims);

  int64_t today() const { return today_; }
  const std::vector<PoolUnit>& units() const { return units_; }
  const std::vector<Claim>& claims() const { return claims_; }

  // Odds that the unit is ready on that day, its own claims that end before it included.
  double ReadyOn(int unit, int64_t day) const;
  // Odds that on every day of the wish on which a claim begins, and on its first, as many fit units
  // are ready as the claims before it and the wish itself need. The odds are those of the tightest
  // of these days; claims that other units can serve do not count. For independent due-backs with
  // odds 0.85, 0.70 and 0.40 one wish has 0.973 and two have 0.739.
  double Odds(const Wish& wish) const;
  // The odds of a claim among the others.
  double OddsOf(int claim) const;
  // Units whose days are free for the wish, the likeliest first; where none is left, claims move to
  // other units so that one becomes free, by the largest matching. None when that cannot be.
  std::optional<Placing> Place(const Wish& wish) const;
  // The first day from `wish.from` to `last` on which the wish, as long as it is, has at least
  // these odds and a place; on the first few days also one that others move for.
  std::optional<int64_t> Earliest(Wish wish, double odds, int64_t last) const;

 private:
  // The claims that a wish comes after and shares days with.
  std::vector<int> Before(const Wish& wish) const;
  // How many fit units the claims on `day` need: those that no other unit can serve.
  int Needed(const std::vector<int>& claims, int64_t day) const;
  const plan::Pmf& ReadyUnits(int64_t day) const;
  bool IsFree(int unit, int64_t from, int64_t through) const;
  std::vector<int> ByOdds(int64_t day) const;
  std::optional<Placing> PlaceAsItStands(const Wish& wish) const;
  std::optional<Placing> PlaceByMoving(const Wish& wish) const;

  int64_t today_;
  std::vector<PoolUnit> units_;
  std::vector<Claim> claims_;
  std::vector<std::vector<int>> claims_of_;  // by unit, by first day
  bool all_eligible_ = true;
  mutable std::map<int64_t, plan::Pmf> ready_units_;  // of fit units, by day
};

}  // namespace ferrule::promise
