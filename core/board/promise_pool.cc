#include "core/board/promise_pool.h"

#include <algorithm>
#include <tuple>
#include <utility>

#include "absl/strings/str_cat.h"
#include "core/board/rentals_seen.h"
#include "core/fact/promise.h"
#include "core/fact/words.h"
#include "core/order/unfit.h"
#include "core/time/civil.h"
#include "core/unit/commitment.h"
#include "core/unit/ready.h"

namespace ferrule::board {
namespace {

constexpr int64_t kUsualHorizon = 60;
// So much further the odds themselves are worked out, so that a need that begins late can end.
constexpr int64_t kBeyond = 60;
// From these odds on the unit is counted on again: four of five are ready then (common practice, no
// source).
constexpr double kCountedOnAgain = 0.8;
constexpr int64_t kMostSlack = 30;
// A need that lies further back was met elsewhere or forgotten; it claims nothing.
constexpr int64_t kForgotten = 14;
constexpr int kUsualDays = 21;

int64_t Number(const google::type::Date& date) { return time::DayNumber(time::ToDay(date)); }

std::string DayWords(int64_t day) { return time::FormatDay(time::DayFromNumber(day)); }

bool Lent(const v1::UnitState& unit) {
  return unit.purpose() == v1::PURPOSE_UNSPECIFIED || unit.purpose() == v1::PURPOSE_RENTAL ||
         unit.purpose() == v1::PURPOSE_CROSS_RENTED;
}

int DaysOf(const v1::OrderDetails& details) {
  return details.length_of_need_days() > 0 ? details.length_of_need_days() : kUsualDays;
}

// The day on which an order needs its unit, as far as it is known.
std::optional<int64_t> NeededOn(const v1::OrderDetails& d) {
  if (time::IsValid(d.needed_date())) return Number(d.needed_date());
  if (time::IsValid(d.discharge_date())) return Number(d.discharge_date());
  if (time::IsValid(d.surgery_date())) return Number(d.surgery_date());
  return std::nullopt;
}

constexpr int64_t kNoDay = INT64_MAX;

int64_t DayOr(const google::type::Date& date) {
  return time::IsValid(date) ? Number(date) : kNoDay;
}

int64_t AskedUs(const v1::OrderState& order) {
  if (order.has_waiting()) return time::ToMicros(order.waiting().noted().time());
  return time::ToMicros(order.taken().time());
}

// Days after the last one of use until the unit is counted on again.
int64_t SlackIn(const std::vector<double>& again, int days) {
  for (int64_t slack = 0; slack < kMostSlack; ++slack) {
    if (again[static_cast<size_t>(days + slack)] >= kCountedOnAgain) return slack;
  }
  return kMostSlack;
}

}  // namespace

int64_t Horizon(const depot::Rules& rules) {
  const int days = rules.settings().promise_policy().look_ahead_days();
  return days > 0 ? days : kUsualHorizon;
}

bool ServedBefore(const v1::OrderState& a, const v1::OrderState& b) {
  return std::make_tuple(DayOr(a.details().surgery_date()), DayOr(a.details().needed_date()),
                         AskedUs(a), a.order()) < std::make_tuple(DayOr(b.details().surgery_date()),
                                                                  DayOr(b.details().needed_date()),
                                                                  AskedUs(b), b.order());
}

absl::StatusOr<PoolView> PoolView::Read(ledger::Ledger& ledger, PromiseDesk& desk,
                                        const std::string& branch, const std::string& device_class,
                                        int64_t at_us) {
  PoolView view;
  view.branch_ = branch;
  view.device_class_ = device_class;
  view.at_us_ = at_us;
  view.book_ = ledger.Book();
  view.today_ = time::DayNumber(time::LocalDay(at_us, view.zone()));
  auto law = desk.laws.Of(ledger, device_class, view.today_);
  if (!law.ok()) return law.status();
  view.law_ = *std::move(law);
  const absl::StatusOr<PoolMembers> members = desk.index.Members(ledger, branch, device_class);
  if (!members.ok()) return members.status();
  view.sequence_ = members->sequence;
  for (const std::string& name : members->orders) {
    absl::StatusOr<ledger::StatePtr> state = ledger.Get(name);
    if (!state.ok()) return state.status();
    view.AddOrder(*std::move(state));
  }
  for (const std::string& name : members->units) {
    absl::StatusOr<ledger::StatePtr> state = ledger.Get(name);
    if (!state.ok()) return state.status();
    view.AddUnit(*std::move(state));
  }
  view.AddClaims();
  view.RankClaims();
  return view;
}

void PoolView::AddOrder(ledger::StatePtr state) { orders_.push_back({std::move(state), -1}); }

const PoolView::Order* PoolView::FindOrder(std::string_view order) const {
  const auto it = std::lower_bound(orders_.begin(), orders_.end(), order,
                                   [](const Order& o, std::string_view id) {
                                     return std::string_view(o.state->order().order()) < id;
                                   });
  if (it == orders_.end() || it->state->order().order() != order) return nullptr;
  return &*it;
}

int PoolView::FindUnit(std::string_view unit) const {
  const auto it =
      std::lower_bound(units_.begin(), units_.end(), unit, [](const Unit& u, std::string_view id) {
        return std::string_view(u.state->unit().unit()) < id;
      });
  if (it == units_.end() || it->state->unit().unit() != unit) return promise::kNoUnit;
  return static_cast<int>(it - units_.begin());
}

// Index 0 is now; from then on "ready when the day begins" is what the law says as at the end of
// the day before. Many units are equally late, so each lateness is worked out once.
const std::vector<double>& PoolView::OddsWhenLate(int64_t late, bool agreed) {
  std::vector<double>& ready = by_lateness_[{late, agreed}];
  if (ready.empty()) {
    ready = law_->ReadyAfterRental(today_, late, agreed, Horizon(rules()) + kBeyond);
    ready.insert(ready.begin(), 0);
  }
  return ready;
}

std::vector<double> PoolView::RentedOdds(const v1::OrderState* order, std::string* standing) {
  Lateness lateness;
  if (order != nullptr) lateness = LatenessOf(*order, *book_, today_);
  if (lateness.due) {
    absl::StrAppend(standing, ", due ", DayWords(*lateness.due));
    if (lateness.agreed) absl::StrAppend(standing, " as agreed");
  }
  return OddsWhenLate(lateness.late, lateness.agreed);
}

// A unit that came back and is not ready: on its way to the house, or in it.
std::vector<double> PoolView::HouseOdds(const v1::UnitState& unit, int64_t since) const {
  const v1::Place* place = rules().FindPlace(unit.place());
  const bool on_the_way = place != nullptr && place->kind() == v1::PLACE_KIND_VAN_DIRTY;
  const promise::TurnLaw& turn = law_->turn();
  std::vector<double> ready = {0};
  for (int64_t day = today_; day <= today_ + Horizon(rules()) + kBeyond; ++day) {
    ready.push_back(on_the_way ? turn.FromVan(today_, day) : turn.FromHouse(since, today_, day));
  }
  return ready;
}

// Days that are promised to others are claims here, and no reason why it is not ready.
bool PoolView::IsReady(const v1::SubjectState& state, const unit::ReadyQuery& query) const {
  const std::vector<v1::Finding> why = unit::Assess(state, *book_, query);
  return std::all_of(why.begin(), why.end(), [](const v1::Finding& finding) {
    return finding.reason() == v1::REASON_PROMISED_TO_OTHER_ORDER;
  });
}

void PoolView::AddUnit(ledger::StatePtr state) {
  const v1::UnitState& unit = state->unit();
  if (!Lent(unit)) return;
  Unit row{state, "", ""};
  std::vector<double> ready;
  unit::ReadyQuery query;
  query.at_us = at_us_;
  if (unit.commitment() == v1::COMMITMENT_HELD) query.order = unit.order();
  if (unit.custody() == v1::CUSTODY_HOME) {
    row.after_order = unit.order();
    row.standing = "on rent with " + unit.order();
    const Order* order = FindOrder(unit.order());
    ready = RentedOdds(order == nullptr ? nullptr : &order->state->order(), &row.standing);
  } else if (!unit.holds().empty()) {
    row.standing =
        absl::StrCat("on hold (", std::string(fact::HoldKindWords(unit.holds(0).kind())), ")");
    ready = {0};
  } else if (IsReady(*state, query)) {
    row.standing = "ready";
    ready = {1};
  } else {
    const int64_t since = time::DayNumber(time::LocalDay(
        time::ToMicros(unit.has_returned() ? unit.returned().time() : unit.received().time()),
        zone()));
    row.standing = absl::StrCat("in the house since ", DayWords(since), ", not ready yet");
    ready = HouseOdds(unit, std::min(since, today_));
  }
  units_.push_back(std::move(row));
  ready_.push_back(std::move(ready));
}

std::vector<double> PoolView::Again(int64_t from, int days) const {
  std::vector<double> again =
      law_->ReadyAfterRental(from, 1 - days, false, days + kMostSlack + kBeyond);
  again.insert(again.begin(), 0);
  return again;
}

int64_t PoolView::SlackDays(int64_t from, int days) const {
  return SlackIn(Again(from, days), days);
}

promise::Claim PoolView::PromiseClaim(const v1::StandingPromise& promise, int unit) const {
  promise::Claim claim;
  claim.order = promise.order();
  claim.from = Number(promise.from_date());
  claim.through = Number(promise.through_date());
  claim.firm = promise.firm();
  claim.unit = unit;
  return claim;
}

void PoolView::AddClaims() {
  // One length of need from one day on is looked up once: many orders share it.
  using After = std::pair<int64_t, std::vector<double>>;
  std::map<std::pair<int64_t, int>, After> by_days;
  const auto after = [&](int64_t from, int days) -> const After& {
    const auto [it, is_new] = by_days.try_emplace({from, days});
    if (is_new) {
      it->second.second = Again(from, days);
      it->second.first = SlackIn(it->second.second, days);
    }
    return it->second;
  };
  const auto add = [&](Order& order, promise::Claim claim) {
    claim.again = after(claim.from, DaysOf(order.state->order().details())).second;
    order.claim = static_cast<int>(claims_.size());
    claims_.push_back(std::move(claim));
  };
  for (Order& row : orders_) {
    const v1::OrderState& order = row.state->order();
    if (order.status() == v1::ORDER_STATUS_ON_RENT) continue;
    const int days = DaysOf(order.details());
    const std::optional<int64_t> needed = NeededOn(order.details());
    if (order.has_promise() && !fact::PromiseLapsed(order.promise(), at_us_, zone())) {
      const int unit = FindUnit(order.promise().unit());
      if (unit != promise::kNoUnit) {
        add(row, PromiseClaim(order.promise(), unit));
        continue;
      }
    }
    promise::Claim claim;
    claim.order = order.order();
    const int held =
        order.status() == v1::ORDER_STATUS_HELD ? FindUnit(order.unit()) : promise::kNoUnit;
    if (held != promise::kNoUnit &&
        !unit::HoldLapsed(units_[static_cast<size_t>(held)].state->unit(), at_us_)) {
      // It stands on the shelf for this order from now on.
      claim.from = today_;
      claim.unit = held;
      claim.bound = true;
      claim.firm = order.hold_firm();
    } else if (needed && *needed >= today_ - kForgotten) {
      claim.from = std::max(*needed, today_);
    } else {
      continue;
    }
    const int64_t from = std::max(needed.value_or(today_), today_);
    claim.through = from + days - 1 + after(from, days).first;
    add(row, std::move(claim));
  }
  for (const Unit& unit : units_) {
    for (const v1::StandingPromise& promise : unit.state->unit().promises()) {
      if (fact::PromiseLapsed(promise, at_us_, zone())) continue;
      const Order* order = FindOrder(promise.order());
      const bool stands = order != nullptr && order->state->order().has_promise() &&
                          order->state->order().promise().unit() == promise.unit();
      if (!stands) stale_.push_back(promise);
    }
  }
}

// Promises by when they were made, the firm ones first; then whoever waits, in the stated order.
void PoolView::RankClaims() {
  std::vector<const Order*> promised;
  std::vector<const Order*> waiting;
  for (const Order& order : orders_) {
    if (order.claim < 0) continue;
    const promise::Claim& claim = claims_[static_cast<size_t>(order.claim)];
    (claim.unit == promise::kNoUnit ? waiting : promised).push_back(&order);
  }
  const auto made_us = [](const Order& o) {
    const v1::OrderState& order = o.state->order();
    return time::ToMicros(order.has_promise() ? order.promise().promised().time()
                                              : order.status_since().time());
  };
  std::sort(promised.begin(), promised.end(), [&](const Order* a, const Order* b) {
    const promise::Claim& claim_a = claims_[static_cast<size_t>(a->claim)];
    const promise::Claim& claim_b = claims_[static_cast<size_t>(b->claim)];
    return std::make_tuple(!claim_a.bound, !claim_a.firm, made_us(*a), claim_a.order) <
           std::make_tuple(!claim_b.bound, !claim_b.firm, made_us(*b), claim_b.order);
  });
  std::sort(waiting.begin(), waiting.end(), [](const Order* a, const Order* b) {
    return ServedBefore(a->state->order(), b->state->order());
  });
  int64_t rank = 0;
  for (const Order* order : promised) claims_[static_cast<size_t>(order->claim)].rank = rank++;
  for (const Order* order : waiting) claims_[static_cast<size_t>(order->claim)].rank = rank++;
}

int64_t PoolView::RankOf(std::string_view order) const {
  const Order* row = FindOrder(order);
  if (row == nullptr) return INT64_MAX;
  if (row->claim >= 0) return claims_[static_cast<size_t>(row->claim)].rank;
  return INT64_MAX;
}

promise::Pool PoolView::PoolFor(const v1::OrderDetails* details, std::string_view order) const {
  std::vector<promise::PoolUnit> units;
  units.reserve(units_.size());
  for (size_t u = 0; u < units_.size(); ++u) {
    const v1::UnitState& unit = units_[u].state->unit();
    promise::PoolUnit row{unit.unit(), ready_[u], true, 0};
    const v1::Model* model = rules().FindModel(unit.model());
    if (details != nullptr && model != nullptr) {
      row.eligible = order::Unfit(*details, unit.unit(), *model, rules()).empty();
      const bool other_side = model->sided() && details->side() != v1::SIDE_UNSPECIFIED &&
                              unit.side() != details->side() && unit.side() != v1::SIDE_EITHER;
      row.preference += other_side ? 2 : 0;
      row.preference += details->model().empty() || details->model() == model->id() ? 0 : 1;
    }
    row.preference += unit.promises().empty() ? 0 : 4;
    units.push_back(std::move(row));
  }
  std::vector<promise::Claim> claims;
  for (const promise::Claim& claim : claims_) {
    if (order.empty() || claim.order != order) claims.push_back(claim);
  }
  return promise::Pool(today_, std::move(units), std::move(claims));
}

void PoolView::Move(std::string_view order, int64_t days) {
  const Order* row = FindOrder(order);
  if (row == nullptr) return;
  if (row->claim >= 0) {
    promise::Claim& claim = claims_[static_cast<size_t>(row->claim)];
    if (!claim.bound) claim.from = std::max(claim.from + days, today_);
    claim.through = std::max(claim.through + days, claim.from);
    return;
  }
  if (row->state->order().status() != v1::ORDER_STATUS_ON_RENT) return;
  const int unit = FindUnit(row->state->order().unit());
  if (unit == promise::kNoUnit) return;
  const Lateness lateness = LatenessOf(row->state->order(), *book_, today_);
  ready_[static_cast<size_t>(unit)] = OddsWhenLate(lateness.late - days, lateness.agreed);
}

}  // namespace ferrule::board
