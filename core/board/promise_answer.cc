#include "core/board/promise_answer.h"

#include <algorithm>
#include <cmath>
#include <utility>

#include "absl/strings/str_cat.h"
#include "core/depot/known.h"
#include "core/fact/promise.h"
#include "core/fact/subject.h"
#include "core/order/unfit.h"
#include "core/time/civil.h"

namespace ferrule::board {
namespace {

using Facts = google::protobuf::RepeatedPtrField<v1::Fact>;

constexpr int kUsualDays = 21;
constexpr int kMostSources = 20;
constexpr int kMostDays = 730;
constexpr int kMostUnits = 10;

google::type::Date DateOf(int64_t day) { return time::FromDay(time::DayFromNumber(day)); }

// What is asked, the order's words filled in.
struct Asked {
  ledger::StatePtr order;  // null without one
  v1::OrderDetails details;
  int64_t day = 0;
  int days = 0;
  int count = 1;
};

absl::Status CheckOrder(const v1::OrderState& order) {
  switch (order.status()) {
    case v1::ORDER_STATUS_ON_RENT:
      return absl::FailedPreconditionError(
          absl::StrCat("order ", order.order(), " has its unit already; ask for another order"));
    case v1::ORDER_STATUS_CLOSED:
      return absl::FailedPreconditionError(
          absl::StrCat("the rental of order ", order.order(), " is over; take a new order"));
    case v1::ORDER_STATUS_CANCELLED:
      return absl::FailedPreconditionError(
          absl::StrCat("order ", order.order(), " is cancelled; take it again first"));
    default:
      return absl::OkStatus();
  }
}

absl::Status Check(const Asked& asked, const depot::Rules& rules) {
  const v1::OrderDetails& d = asked.details;
  if (d.branch().empty() || d.device_class().empty()) {
    return absl::InvalidArgumentError(
        "the branch or the class of device is not known; give an order that says them, or both");
  }
  absl::Status known = depot::KnowBranch(rules, d.branch());
  known.Update(depot::KnowDeviceClass(rules, d.device_class()));
  if (!known.ok()) return known;
  const bool side_known = d.side() == v1::SIDE_LEFT || d.side() == v1::SIDE_RIGHT;
  if (rules.FindDeviceClass(d.device_class())->sided() && asked.order != nullptr && !side_known) {
    return absl::FailedPreconditionError(absl::StrCat(
        "order ", asked.order->order().order(),
        " does not say left or right, and nothing is promised before it does; ask the prescriber"));
  }
  if (asked.days < 1 || asked.days > kMostDays) {
    return absl::InvalidArgumentError(absl::StrCat("days is ", asked.days, "; give 1 to 730"));
  }
  if (asked.count < 1 || asked.count > kMostUnits) {
    return absl::InvalidArgumentError(
        absl::StrCat("unit_count is ", asked.count, "; give 1 to ", kMostUnits));
  }
  return absl::OkStatus();
}

absl::StatusOr<Asked> Understand(ledger::Ledger& ledger, const v1::AssessPromiseRequest& request,
                                 int64_t now_us) {
  Asked asked;
  if (!request.name().empty()) {
    absl::StatusOr<ledger::StatePtr> state = ledger.Get(request.name());
    if (!state.ok()) return state.status();
    if (!(*state)->has_order()) {
      return absl::InvalidArgumentError(
          absl::StrCat(request.name(), " is no order; give a name like orders/R-2001"));
    }
    asked.order = *std::move(state);
    if (absl::Status status = CheckOrder(asked.order->order()); !status.ok()) return status;
    asked.details = asked.order->order().details();
  }
  v1::OrderDetails& d = asked.details;
  if (!request.device_class().empty()) d.set_device_class(request.device_class());
  if (!request.branch().empty()) d.set_branch(request.branch());
  if (request.side() != v1::SIDE_UNSPECIFIED) d.set_side(request.side());
  const int of_order = d.length_of_need_days() > 0 ? d.length_of_need_days() : kUsualDays;
  asked.days = request.days() != 0 ? request.days() : of_order;
  asked.count = request.unit_count() != 0 ? request.unit_count() : 1;
  const depot::Rules& rules = ledger.Book()->At(now_us);
  if (absl::Status status = Check(asked, rules); !status.ok()) return status;
  const google::type::Date& date = request.has_date() ? request.date() : d.needed_date();
  if (!time::IsValid(date)) {
    return absl::InvalidArgumentError(
        "the day is missing: give the day on which the unit must be ready, for instance "
        "2026-11-25");
  }
  asked.day = time::DayNumber(time::ToDay(date));
  const int64_t today =
      time::DayNumber(time::LocalDay(now_us, rules.ZoneOf(asked.details.branch())));
  if (asked.day < today) {
    return absl::InvalidArgumentError(absl::StrCat(time::FormatDay(time::ToDay(date)),
                                                   " is over at that branch; give a day to come"));
  }
  return asked;
}

class Answer {
 public:
  Answer(const PoolView& view, const Asked& asked)
      : view_(view),
        asked_(asked),
        pool_(view.PoolFor(&asked.details, OrderId())),
        verdicts_(VerdictsOf(view.rules())) {
    wish_.from = asked.day;
    wish_.through = asked.day + asked.days - 1 + view.SlackDays(asked.day, asked.days);
    wish_.count = asked.count;
    if (asked.order != nullptr) wish_.rank = view.RankOf(OrderId());
    placing_ = pool_.Place(wish_);
    odds_ = placing_ ? pool_.Odds(wish_) : 0;
  }

  v1::AssessPromiseResponse Fill(bool firm) {
    v1::AssessPromiseResponse response;
    response.set_verdict(Verdict());
    response.set_odds_permille(Permille(odds_));
    response.set_branch(view_.branch());
    *response.mutable_date() = DateOf(wish_.from);
    *response.mutable_through_date() = DateOf(wish_.through);
    AddSources(&response);
    AddClaims(&response);
    if (Verdict() != v1::PROMISE_VERDICT_YES) {
      const int64_t last = std::max(view_.today() + Horizon(view_.rules()), wish_.from);
      if (auto day = pool_.Earliest(wish_, verdicts_.yes_from, last)) {
        *response.mutable_earliest_date() = DateOf(*day);
      }
    }
    if (Verdict() != v1::PROMISE_VERDICT_NO && asked_.order != nullptr && asked_.count == 1) {
      Propose(firm, response.mutable_proposal());
    }
    response.set_as_of_sequence(view_.sequence());
    response.set_learned_rental_count(static_cast<int>(view_.law().rentals()));
    return response;
  }

  double odds() const { return odds_; }
  std::optional<int64_t> EarliestAfter(int64_t transfer_days) const {
    const int64_t last = view_.today() + Horizon(view_.rules());
    promise::Wish wish = wish_;
    wish.from = std::max(view_.today(), wish.from - transfer_days);
    wish.through += wish.from - wish_.from;
    return pool_.Earliest(wish, verdicts_.yes_from, std::max(last, wish.from));
  }

 private:
  std::string OrderId() const {
    return asked_.order == nullptr ? std::string() : asked_.order->order().order();
  }
  v1::PromiseVerdict Verdict() const {
    if (!placing_ || odds_ < verdicts_.no_below) return v1::PROMISE_VERDICT_NO;
    return odds_ >= verdicts_.yes_from ? v1::PROMISE_VERDICT_YES : v1::PROMISE_VERDICT_LIKELY;
  }

  // The units placed first, then the others by their odds.
  void AddSources(v1::AssessPromiseResponse* response) const {
    std::vector<int> order;
    if (placing_) order = placing_->units;
    std::vector<int> others;
    for (int u = 0; u < static_cast<int>(pool_.units().size()); ++u) {
      const bool placed = std::find(order.begin(), order.end(), u) != order.end();
      const bool eligible = pool_.units()[static_cast<size_t>(u)].eligible;
      if (!placed && eligible && pool_.ReadyOn(u, wish_.from) > 0) others.push_back(u);
    }
    std::stable_sort(others.begin(), others.end(), [this](int a, int b) {
      return pool_.ReadyOn(a, wish_.from) > pool_.ReadyOn(b, wish_.from);
    });
    order.insert(order.end(), others.begin(), others.end());
    for (int u : order) {
      if (response->sources_size() == kMostSources) return;
      AddSource(u, response->add_sources());
    }
  }

  void AddSource(int u, v1::PromiseSource* source) const {
    const PoolView::Unit& unit = view_.units()[static_cast<size_t>(u)];
    source->set_unit(unit.state->unit().unit());
    source->set_model(unit.state->unit().model());
    source->set_odds_permille(Permille(pool_.ReadyOn(u, wish_.from)));
    source->set_standing(unit.standing);
    for (const promise::Claim& claim : pool_.claims()) {
      const bool shares = claim.from <= wish_.through && wish_.from <= claim.through;
      if (claim.unit == u && shares) source->set_claimed_by(claim.order);
    }
    source->set_stands_in(!asked_.details.model().empty() &&
                          asked_.details.model() != unit.state->unit().model());
  }

  void AddClaims(v1::AssessPromiseResponse* response) const {
    std::vector<const promise::Claim*> claims;
    for (const promise::Claim& claim : pool_.claims()) {
      const bool shares = claim.from <= wish_.through && wish_.from <= claim.through;
      if (shares && claim.rank < wish_.rank) claims.push_back(&claim);
    }
    std::sort(claims.begin(), claims.end(),
              [](const auto* a, const auto* b) { return a->rank < b->rank; });
    for (const promise::Claim* claim : claims) {
      v1::PromiseClaim* row = response->add_claims();
      row->set_order(claim->order);
      *row->mutable_from_date() = DateOf(claim->from);
      *row->mutable_through_date() = DateOf(claim->through);
      row->set_firm(claim->firm);
      if (claim->unit != promise::kNoUnit) {
        row->set_unit(pool_.units()[static_cast<size_t>(claim->unit)].unit);
      }
    }
  }

  // Others move out of the way first, then what nobody waits for any more is cleared away.
  void Propose(bool firm, Facts* facts) const {
    const v1::OrderState& order = asked_.order->order();
    if (order.has_promise()) {
      AddRelease(order.promise().unit(), order.order(), "promised anew", view_.at_us(), facts);
    }
    for (const promise::Change& change : placing_->changes) {
      const promise::Claim& claim = pool_.claims()[static_cast<size_t>(change.claim)];
      const PoolView::Unit& from = view_.units()[static_cast<size_t>(claim.unit)];
      for (const v1::StandingPromise& promise : from.state->unit().promises()) {
        if (promise.order() != claim.order) continue;
        AddChange(promise, view_.units()[static_cast<size_t>(change.to_unit)], view_.at_us(),
                  facts);
      }
    }
    const PoolView::Unit& unit = view_.units()[static_cast<size_t>(placing_->units.front())];
    v1::StandingPromise promise;
    promise.set_unit(unit.state->unit().unit());
    promise.set_order(order.order());
    *promise.mutable_from_date() = DateOf(wish_.from);
    *promise.mutable_through_date() = DateOf(wish_.through);
    for (const v1::StandingPromise& stale : view_.stale()) {
      if (stale.unit() != promise.unit() || stale.order() == promise.order() ||
          !fact::ShareDays(stale, promise)) {
        continue;
      }
      AddRelease(stale.unit(), stale.order(), "no longer needed", view_.at_us(), facts);
    }
    promise.set_firm(firm);
    promise.set_odds_permille(Permille(odds_));
    const int64_t hours = view_.rules().settings().promise_policy().soft_hours();
    if (!firm && hours > 0) {
      time::SetMicros(view_.at_us() + hours * 3'600'000'000, promise.mutable_until_time());
    }
    AddPromised(promise, unit, view_.at_us(), facts);
  }

  const PoolView& view_;
  const Asked& asked_;
  promise::Pool pool_;
  Verdicts verdicts_;
  promise::Wish wish_;
  std::optional<promise::Placing> placing_;
  double odds_ = 0;
};

v1::Fact* AddFact(int64_t at_us, Facts* facts) {
  v1::Fact* fact = facts->Add();
  time::SetMicros(at_us, fact->mutable_happened_time());
  return fact;
}

// Other branches from which a unit can come, the earliest arrival first.
absl::Status AddElsewhere(ledger::Ledger& ledger, PromiseDesk& desk, const Asked& asked,
                          int64_t now_us, v1::AssessPromiseResponse* response) {
  const std::shared_ptr<const depot::SettingsBook> book = ledger.Book();
  for (const v1::TransferLane& way : book->At(now_us).settings().planning().transfer_lanes()) {
    if (way.to_branch() != asked.details.branch()) continue;
    const auto view =
        PoolView::Read(ledger, desk, way.from_branch(), asked.details.device_class(), now_us);
    if (!view.ok()) return view.status();
    Asked there = asked;
    there.order = nullptr;
    there.day = std::max(view->today(), asked.day - way.transit_days());
    const Answer answer(*view, there);
    const std::optional<int64_t> earliest = answer.EarliestAfter(0);
    if (!earliest && answer.odds() <= 0) continue;
    v1::PromiseElsewhere* row = response->add_elsewhere();
    row->set_branch(way.from_branch());
    row->set_transfer_days(way.transit_days());
    if (earliest) *row->mutable_earliest_date() = DateOf(*earliest + way.transit_days());
    const bool in_time = view->today() + way.transit_days() <= asked.day;
    row->set_odds_permille(in_time ? Permille(answer.odds()) : 0);
  }
  std::stable_sort(response->mutable_elsewhere()->begin(), response->mutable_elsewhere()->end(),
                   [](const v1::PromiseElsewhere& a, const v1::PromiseElsewhere& b) {
                     if (a.has_earliest_date() != b.has_earliest_date()) {
                       return a.has_earliest_date();
                     }
                     return a.has_earliest_date() &&
                            time::ToDay(a.earliest_date()) < time::ToDay(b.earliest_date());
                   });
  return absl::OkStatus();
}

}  // namespace

int Permille(double odds) {
  return static_cast<int>(std::floor(std::clamp(odds, 0.0, 1.0) * 1000 + 1e-9));
}

Verdicts VerdictsOf(const depot::Rules& rules) {
  Verdicts verdicts;
  const v1::PromisePolicy& policy = rules.settings().promise_policy();
  if (policy.yes_from_permille() > 0) verdicts.yes_from = policy.yes_from_permille() / 1000.0;
  if (policy.no_below_permille() > 0) verdicts.no_below = policy.no_below_permille() / 1000.0;
  return verdicts;
}

void AddPromised(const v1::StandingPromise& promise, const PoolView::Unit& unit, int64_t at_us,
                 Facts* facts) {
  v1::UnitPromised* f = AddFact(at_us, facts)->mutable_unit_promised();
  f->set_unit(unit.state->unit().unit());
  f->set_order(promise.order());
  *f->mutable_from_date() = promise.from_date();
  *f->mutable_through_date() = promise.through_date();
  f->set_firm(promise.firm());
  if (promise.has_until_time()) *f->mutable_until_time() = promise.until_time();
  f->set_after_order(unit.after_order);
  f->set_odds_permille(promise.odds_permille());
}

void AddChange(const v1::StandingPromise& promise, const PoolView::Unit& to, int64_t at_us,
               Facts* facts) {
  AddRelease(promise.unit(), promise.order(), "moved to " + to.state->unit().unit(), at_us, facts);
  AddPromised(promise, to, at_us, facts);
}

void AddRelease(const std::string& unit, const std::string& order, const std::string& reason,
                int64_t at_us, Facts* facts) {
  v1::OrderHoldReleased* f = AddFact(at_us, facts)->mutable_order_hold_released();
  f->set_unit(unit);
  f->set_order(order);
  f->set_reason(reason);
}

absl::StatusOr<v1::AssessPromiseResponse> AssessPromise(ledger::Ledger& ledger, PromiseDesk& desk,
                                                        const v1::AssessPromiseRequest& request,
                                                        int64_t now_us) {
  const absl::StatusOr<Asked> asked = Understand(ledger, request, now_us);
  if (!asked.ok()) return asked.status();
  const auto view =
      PoolView::Read(ledger, desk, asked->details.branch(), asked->details.device_class(), now_us);
  if (!view.ok()) return view.status();
  v1::AssessPromiseResponse response = Answer(*view, *asked).Fill(request.firm());
  if (response.verdict() != v1::PROMISE_VERDICT_YES) {
    absl::Status status = AddElsewhere(ledger, desk, *asked, now_us, &response);
    if (!status.ok()) return status;
  }
  return response;
}

}  // namespace ferrule::board
