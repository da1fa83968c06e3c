// The pool of a class at a branch as the states give it: units with their odds, claims of other
// orders, and words for how each stands.
#pragma once

#include <cstdint>
#include <map>
#include <memory>
#include <string>
#include <string_view>
#include <utility>
#include <vector>

#include "absl/status/statusor.h"
#include "core/board/pool_index.h"
#include "core/board/return_laws.h"
#include "core/ledger/ledger.h"
#include "core/promise/pool.h"
#include "core/unit/ready.h"
#include "ferrule/v1/promise_service.pb.h"

namespace ferrule::board {

// What questions about promises keep in memory between one and the next. Thread-safe; one per
// ledger.
struct PromiseDesk {
  PoolIndex index;
  ReturnLaws laws;
};

// Everything about one pool at one instant. Days are day numbers, local to the branch.
class PoolView {
 public:
  struct Unit {
    ledger::StatePtr state;
    std::string standing;  // "ready", "on rent with R-1, due 2026-03-10", ...
    std::string after_order;
  };
  struct Order {
    ledger::StatePtr state;
    int claim = -1;  // its claim in the pool; -1 for one that has none (on rent, no day known)
  };

  // Reads the members of the pool. Errors are the store's.
  static absl::StatusOr<PoolView> Read(ledger::Ledger& ledger, PromiseDesk& desk,
                                       const std::string& branch, const std::string& device_class,
                                       int64_t at_us);

  // The pool with units of `details` fitting as they do, and without the claim of `order`, which
  // asks; empty for nobody.
  promise::Pool PoolFor(const v1::OrderDetails* details, std::string_view order) const;
  // The order's place among the claims; after all others when it has none.
  int64_t RankOf(std::string_view order) const;
  // Days after the last day of use of a rental that begins on day `from` until its unit is counted
  // on again.
  int64_t SlackDays(int64_t from, int days) const;
  // Chances of being ready again by day, counted from the first day, `from`, of a rental of so many
  // days.
  std::vector<double> Again(int64_t from, int days) const;

  const std::string& branch() const { return branch_; }
  int64_t today() const { return today_; }
  int64_t at_us() const { return at_us_; }
  int64_t sequence() const { return sequence_; }
  const depot::SettingsBook& book() const { return *book_; }
  const depot::Rules& rules() const { return book_->At(at_us_); }
  absl::TimeZone zone() const { return rules().ZoneOf(branch_); }
  const promise::ReturnLaw& law() const { return *law_; }
  const std::vector<Unit>& units() const { return units_; }
  const std::vector<Order>& orders() const { return orders_; }
  const std::vector<promise::Claim>& claims() const { return claims_; }
  // Promises on units whose order no longer has them: nobody is waiting for these days.
  const std::vector<v1::StandingPromise>& stale() const { return stale_; }

  // The same pool after one order's dates have moved by so many days: its rental, its promise or
  // its claim.
  void Move(std::string_view order, int64_t days);

  // Odds by day that a unit is ready, from today on, apart from claims.
  const std::vector<std::vector<double>>& ready() const { return ready_; }

 private:
  void AddUnit(ledger::StatePtr state);
  bool IsReady(const v1::SubjectState& state, const unit::ReadyQuery& query) const;
  void AddOrder(ledger::StatePtr state);
  void AddClaims();
  void RankClaims();
  std::vector<double> HouseOdds(const v1::UnitState& unit, int64_t since) const;
  std::vector<double> RentedOdds(const v1::OrderState* order, std::string* standing);
  const std::vector<double>& OddsWhenLate(int64_t late, bool agreed);
  const Order* FindOrder(std::string_view order) const;
  int FindUnit(std::string_view unit) const;
  promise::Claim PromiseClaim(const v1::StandingPromise& promise, int unit) const;

  std::string branch_;
  std::string device_class_;
  int64_t at_us_ = 0;
  int64_t today_ = 0;
  int64_t sequence_ = 0;
  std::shared_ptr<const depot::SettingsBook> book_;
  std::shared_ptr<const promise::ReturnLaw> law_;
  std::vector<Unit> units_;
  std::vector<std::vector<double>> ready_;
  std::vector<Order> orders_;
  std::vector<promise::Claim> claims_;
  std::vector<v1::StandingPromise> stale_;
  std::map<std::pair<int64_t, bool>, std::vector<double>> by_lateness_;
};

// Days ahead that are looked at.
int64_t Horizon(const depot::Rules& rules);

// The order in which those who wait are served: by the day of the operation, then by the day
// needed, then by when it was noted that they wait (or the order taken), then by number. An order
// without a day of operation comes after those that have one.
bool ServedBefore(const v1::OrderState& a, const v1::OrderState& b);

}  // namespace ferrule::board
