// Days to come that are promised of a unit: what keeps two clerks from giving away the last one.
// Every promise claims one unit of the pool, the unit is a subject of the fact, and the ledger
// decides the facts of one subject one after the other on either engine.
#include "core/unit/promises.h"

#include <algorithm>

#include "core/fact/promise.h"
#include "core/time/civil.h"
#include "core/unit/unit_fold.h"

namespace ferrule::unit {
namespace {

bool Sooner(const v1::StandingPromise& a, const v1::StandingPromise& b) {
  const absl::CivilDay from_a = time::ToDay(a.from_date());
  const absl::CivilDay from_b = time::ToDay(b.from_date());
  return from_a != from_b ? from_a < from_b : a.order() < b.order();
}

absl::TimeZone ZoneOf(const v1::UnitState& unit, const depot::Rules& rules) {
  const v1::Branch* branch = rules.BranchOfPlace(unit.place());
  return branch == nullptr ? absl::UTCTimeZone() : rules.ZoneOf(branch->id());
}

std::string Standing(const std::string& after_order) {
  return after_order.empty() ? "at the depot" : "on rent with " + after_order;
}

}  // namespace

void UnitFold::On(const v1::UnitPromised& f) {
  if (!Take(Event::kPromised)) return;
  const v1::StandingPromise promise = fact::PromiseOf(view_);
  RaiseIfBasisChanged(f);
  RaiseIfHeldWithoutDays(f.order());
  for (const v1::StandingPromise& other : unit_->promises()) {
    if (other.order() == f.order() || !fact::ShareDays(other, promise)) continue;
    Raise(v1::REASON_PROMISED_DAYS_TAKEN,
          {{"order", other.order()},
           {"from", fact::FirstDayWords(other)},
           {"until", fact::LastDayWords(other)}},
          {&other.promised()});
  }
  ForgetPromise(f.order());
  auto* promises = unit_->mutable_promises();
  *promises->Add() = promise;
  std::sort(promises->begin(), promises->end(), Sooner);
}

// The odds were worked out for a unit in the depot, or for the return of one order; whoever handed
// the unit over meanwhile has changed them.
void UnitFold::RaiseIfBasisChanged(const v1::UnitPromised& f) {
  const bool rented = unit_->commitment() == v1::COMMITMENT_ON_RENT;
  const std::string now = rented ? unit_->order() : std::string();
  if (now == f.after_order()) return;
  Raise(v1::REASON_PROMISE_BASIS_CHANGED,
        {{"expected", Standing(f.after_order())}, {"found", Standing(now)}},
        {&unit_->custody_since()});
}

// A hold without days could be for any of them.
void UnitFold::RaiseIfHeldWithoutDays(const std::string& order) {
  if (unit_->commitment() != v1::COMMITMENT_HELD || unit_->order() == order) return;
  if (FindPromise(unit_->order()) == nullptr) {
    RaiseCommitted(v1::REASON_COMMITTED_TO_OTHER_ORDER);
  }
}

// Before the unit is held for an order: without days of its own the order might keep the unit into
// another's. Before a hand-over readiness says the same.
void UnitFold::RaiseIfPromisedToOther(const std::string& order) {
  for (const v1::StandingPromise* other :
       PromisesToOthers(*unit_, order, view_.happened_us, rules())) {
    Raise(v1::REASON_PROMISED_TO_OTHER_ORDER,
          {{"order", other->order()},
           {"from", fact::FirstDayWords(*other)},
           {"until", fact::LastDayWords(*other)}},
          {&other->promised()});
  }
}

const v1::StandingPromise* UnitFold::FindPromise(const std::string& order) const {
  for (const v1::StandingPromise& promise : unit_->promises()) {
    if (promise.order() == order) return &promise;
  }
  return nullptr;
}

bool UnitFold::ForgetPromise(const std::string& order) {
  auto* promises = unit_->mutable_promises();
  const auto rest =
      std::remove_if(promises->begin(), promises->end(),
                     [&](const v1::StandingPromise& p) { return p.order() == order; });
  const bool any = rest != promises->end();
  promises->erase(rest, promises->end());
  return any;
}

void UnitFold::LetPromisesLapse() {
  if (unit_->promises().empty()) return;
  const absl::TimeZone zone = ZoneOf(*unit_, rules());
  auto* promises = unit_->mutable_promises();
  promises->erase(std::remove_if(promises->begin(), promises->end(),
                                 [&](const v1::StandingPromise& p) {
                                   return fact::PromiseLapsed(p, view_.happened_us, zone);
                                 }),
                  promises->end());
}

std::vector<const v1::StandingPromise*> PromisesToOthers(const v1::UnitState& unit,
                                                         std::string_view order, int64_t at_us,
                                                         const depot::Rules& rules) {
  std::vector<const v1::StandingPromise*> others;
  if (order.empty() || unit.promises().empty()) return others;
  const absl::TimeZone zone = ZoneOf(unit, rules);
  for (const v1::StandingPromise& promise : unit.promises()) {
    if (fact::PromiseLapsed(promise, at_us, zone)) continue;
    if (promise.order() == order) return {};
    others.push_back(&promise);
  }
  return others;
}

}  // namespace ferrule::unit
