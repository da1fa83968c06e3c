#include "core/board/move_preview.h"

#include <algorithm>
#include <utility>

#include "absl/strings/str_cat.h"
#include "core/board/promise_answer.h"
#include "core/board/rentals_seen.h"
#include "core/fact/counted.h"
#include "core/fact/promise.h"
#include "core/order/due.h"
#include "core/time/civil.h"

namespace ferrule::board {
namespace {

using Date = google::type::Date;

int64_t Number(const Date& date) { return time::DayNumber(time::ToDay(date)); }
Date DateOf(int64_t day) { return time::FromDay(time::DayFromNumber(day)); }
Date Plus(const Date& date, int64_t days) { return DateOf(Number(date) + days); }

absl::Status Check(const v1::OrderState& order) {
  const v1::OrderDetails& d = order.details();
  if (order.status() == v1::ORDER_STATUS_CANCELLED || order.status() == v1::ORDER_STATUS_CLOSED) {
    return absl::FailedPreconditionError(absl::StrCat(
        "order ", order.order(), " is ",
        order.status() == v1::ORDER_STATUS_CLOSED ? "over" : "cancelled", "; nothing would move"));
  }
  if (!time::IsValid(d.surgery_date())) {
    return absl::FailedPreconditionError(absl::StrCat(
        "order ", order.order(), " has no day of operation; record it first, with change-order"));
  }
  if (d.branch().empty() || d.device_class().empty()) {
    return absl::FailedPreconditionError(
        absl::StrCat("order ", order.order(),
                     " has no branch or no class of device; record it "
                     "first, with change-order"));
  }
  return absl::OkStatus();
}

// The order's details after the move.
v1::OrderDetails Moved(const v1::OrderDetails& d, const v1::AssessMoveRequest& request) {
  v1::OrderDetails changed;
  const int64_t days = Number(request.surgery_date()) - Number(d.surgery_date());
  *changed.mutable_surgery_date() = request.surgery_date();
  if (request.has_discharge_date()) {
    *changed.mutable_discharge_date() = request.discharge_date();
  } else if (time::IsValid(d.discharge_date())) {
    *changed.mutable_discharge_date() = Plus(d.discharge_date(), days);
  }
  if (request.has_needed_date()) {
    *changed.mutable_needed_date() = request.needed_date();
  } else if (time::IsValid(d.needed_date())) {
    *changed.mutable_needed_date() = Plus(d.needed_date(), days);
  }
  return changed;
}

class Preview {
 public:
  Preview(const PoolView& before, ledger::StatePtr state, v1::OrderDetails changed)
      : view_(before),
        after_(before),
        state_(std::move(state)),
        order_(state_->order()),
        changed_(std::move(changed)) {
    shift_ = Shift();
    after_.Move(order_.order(), shift_);
  }

  v1::AssessMoveResponse Fill() {
    response_.set_name("orders/" + order_.order());
    AddDates();
    AddPromises();
    PlaceAnew();
    AddNotes();
    ProposeChange();
    response_.set_as_of_sequence(view_.sequence());
    return std::move(response_);
  }

 private:
  // By how many days the need for the unit moves.
  int64_t Shift() const {
    const v1::OrderDetails& d = order_.details();
    if (changed_.has_needed_date() && time::IsValid(d.needed_date())) {
      return Number(changed_.needed_date()) - Number(d.needed_date());
    }
    return Number(changed_.surgery_date()) - Number(d.surgery_date());
  }
  bool Promised() const {
    return order_.has_promise() &&
           !fact::PromiseLapsed(order_.promise(), view_.at_us(), view_.zone());
  }
  bool OnRent() const { return order_.status() == v1::ORDER_STATUS_ON_RENT; }

  void AddDate(const char* what, const Date& before, const Date& after) {
    if (!time::IsValid(before) && !time::IsValid(after)) return;
    v1::MovedDate* row = response_.add_moved();
    row->set_what(what);
    if (time::IsValid(before)) *row->mutable_before_date() = before;
    if (time::IsValid(after)) *row->mutable_after_date() = after;
  }

  void AddDates() {
    const v1::OrderDetails& d = order_.details();
    AddDate("operation", d.surgery_date(), changed_.surgery_date());
    if (changed_.has_discharge_date()) {
      AddDate("discharge", d.discharge_date(), changed_.discharge_date());
    }
    if (changed_.has_needed_date()) AddDate("needed", d.needed_date(), changed_.needed_date());
    if (Promised()) {
      AddDate("promise from", order_.promise().from_date(),
              Plus(order_.promise().from_date(), shift_));
      AddDate("promise through", order_.promise().through_date(),
              Plus(order_.promise().through_date(), shift_));
    }
    if (d.progression().anchor() == v1::PROGRESSION_ANCHOR_SURGERY) {
      AddDate("day 0 of the progression", d.surgery_date(), changed_.surgery_date());
    }
    if (const std::optional<v1::RentalEnd> due = order::Due(order_, view_.book())) {
      // The prescription's days run from the hand-over, wherever the operation goes.
      AddDate("due", due->date(), due->date());
    }
  }

  // Every other promise of the pool, before and after.
  void AddPromises() {
    const promise::Pool before = view_.PoolFor(nullptr, "");
    const promise::Pool after = after_.PoolFor(nullptr, "");
    const Verdicts verdicts = VerdictsOf(view_.rules());
    for (size_t i = 0; i < before.claims().size(); ++i) {
      const promise::Claim& claim = before.claims()[i];
      if (claim.unit == promise::kNoUnit || claim.order == order_.order()) continue;
      v1::MovedPromise row;
      const int claim_index = static_cast<int>(i);
      const double odds_before = before.OddsOf(claim_index);
      const promise::Claim* taker = Taker(after, claim);
      const double odds_after =
          taker != nullptr ? Others(after, claim_index) : after.OddsOf(claim_index);
      if (taker == nullptr && Permille(odds_before) == Permille(odds_after)) continue;
      row.set_order(claim.order);
      row.set_unit(before.units()[static_cast<size_t>(claim.unit)].unit);
      *row.mutable_from_date() = DateOf(claim.from);
      row.set_before_permille(Permille(odds_before));
      row.set_after_permille(Permille(odds_after));
      if (taker != nullptr) {
        if (const auto other = OtherUnit(after, claim)) row.set_other_unit(*other);
      }
      row.set_broken((taker != nullptr && row.other_unit().empty()) ||
                     Broken(odds_before, odds_after, verdicts));
      if (row.broken()) response_.set_broken_count(response_.broken_count() + 1);
      *response_.add_promises() = std::move(row);
    }
    std::stable_sort(response_.mutable_promises()->begin(), response_.mutable_promises()->end(),
                     [](const v1::MovedPromise& a, const v1::MovedPromise& b) {
                       return a.after_permille() < b.after_permille();
                     });
  }

  // What was a yes is none any more, or what was likely has become a no.
  static bool Broken(double before, double after, const Verdicts& verdicts) {
    return (before >= verdicts.yes_from && after < verdicts.yes_from) ||
           (before >= verdicts.no_below && after < verdicts.no_below);
  }

  // The moved order's claim where it now wants the same unit on the same days.
  const promise::Claim* Taker(const promise::Pool& after, const promise::Claim& claim) const {
    for (const promise::Claim& other : after.claims()) {
      if (other.order != order_.order() || other.unit != claim.unit) continue;
      if (other.from <= claim.through && claim.from <= other.through) return &other;
    }
    return nullptr;
  }

  static promise::Wish WishOf(const promise::Pool& pool, const promise::Claim& claim) {
    promise::Wish wish;
    wish.from = std::max(claim.from, pool.today());
    wish.through = std::max(claim.through, wish.from);
    return wish;
  }
  // Its odds when the moved order comes before it.
  double Others(const promise::Pool& after, int claim) const {
    const promise::Claim& c = after.claims()[static_cast<size_t>(claim)];
    promise::Pool without(after.today(), after.units(), Without(after.claims(), c.order));
    promise::Wish wish = WishOf(after, c);
    wish.rank = std::max(c.rank, view_.RankOf(order_.order())) + 1;
    return without.Odds(wish);
  }
  std::optional<std::string> OtherUnit(const promise::Pool& after,
                                       const promise::Claim& claim) const {
    promise::Pool without(after.today(), after.units(), Without(after.claims(), claim.order));
    const auto placing = without.Place(WishOf(after, claim));
    if (!placing || !placing->changes.empty()) return std::nullopt;
    return after.units()[static_cast<size_t>(placing->units.front())].unit;
  }
  static std::vector<promise::Claim> Without(const std::vector<promise::Claim>& claims,
                                             const std::string& order) {
    std::vector<promise::Claim> rest;
    for (const promise::Claim& claim : claims) {
      if (claim.order != order) rest.push_back(claim);
    }
    return rest;
  }

  // Where the order itself would get its unit for the new days.
  void PlaceAnew() {
    if (OnRent()) return;
    const promise::Pool pool = view_.PoolFor(&order_.details(), order_.order());
    promise::Wish wish;
    if (Promised()) {
      wish.from = Number(order_.promise().from_date()) + shift_;
      wish.through = Number(order_.promise().through_date()) + shift_;
    } else {
      const v1::OrderDetails& d = order_.details();
      const int days = d.length_of_need_days() > 0 ? d.length_of_need_days() : 21;
      const Date& needed =
          changed_.has_needed_date() ? changed_.needed_date() : changed_.surgery_date();
      wish.from = Number(needed);
      wish.through = wish.from + days - 1 + view_.SlackDays(wish.from, days);
    }
    if (wish.from < view_.today()) {
      response_.add_notes("the new day lies in the past; check it");
      return;
    }
    wish.rank = view_.RankOf(order_.order());
    placing_ = pool.Place(wish);
    response_.set_odds_permille(placing_ ? Permille(pool.Odds(wish)) : 0);
    wish_ = wish;
    KeepUnit(pool);
  }

  // Its own unit is kept wherever that is as likely and nobody else's then.
  void KeepUnit(const promise::Pool& pool) {
    if (!placing_ || !Promised()) return;
    for (size_t u = 0; u < pool.units().size(); ++u) {
      if (pool.units()[u].unit != order_.promise().unit()) continue;
      bool free = true;
      for (const promise::Claim& claim : pool.claims()) {
        free &= claim.unit != static_cast<int>(u) || claim.from > wish_.through ||
                claim.through < wish_.from;
      }
      const double own = pool.ReadyOn(static_cast<int>(u), wish_.from);
      const double best = pool.ReadyOn(placing_->units.front(), wish_.from);
      if (free && own >= best) placing_ = promise::Placing{{static_cast<int>(u)}, {}};
    }
  }

  void AddNotes() {
    if (OnRent() && shift_ > 0) {
      response_.add_notes(absl::StrCat(
          "the unit is at the home already and would stand idle ",
          fact::Counted(shift_, "day", "days"),
          " longer: leave it or pick it up; the prescription's days run from the hand-over, "
          "so ask the prescriber whether they are to be extended"));
    }
    if (shift_ < 0 && !OnRent()) {
      response_.add_notes(placing_ ? "needed earlier: look at the odds for the new day"
                                   : "needed earlier, and no unit can be had for the new day: call "
                                     "another branch or the referrer now");
    } else if (!OnRent() && !placing_) {
      response_.add_notes("no unit can be had for the new days");
    }
    if (response_.broken_count() > 0) {
      response_.add_notes(absl::StrCat(response_.broken_count(),
                                       response_.broken_count() == 1
                                           ? " later promise would break: tell the dispatcher"
                                           : " later promises would break: tell the dispatcher"));
    }
  }

  void ProposeChange() {
    auto* facts = response_.mutable_proposal();
    v1::Fact* fact = facts->Add();
    time::SetMicros(view_.at_us(), fact->mutable_happened_time());
    fact->mutable_order_changed()->set_order(order_.order());
    *fact->mutable_order_changed()->mutable_details() = changed_;
    if (!Promised() || OnRent() || shift_ == 0) return;
    AddRelease(order_.promise().unit(), order_.order(), "operation moved", view_.at_us(), facts);
    if (!placing_ || !placing_->changes.empty()) return;
    v1::StandingPromise promise = order_.promise();
    *promise.mutable_from_date() = DateOf(wish_.from);
    *promise.mutable_through_date() = DateOf(wish_.through);
    promise.set_odds_permille(response_.odds_permille());
    AddPromised(promise, view_.units()[static_cast<size_t>(placing_->units.front())], view_.at_us(),
                facts);
  }

  const PoolView& view_;
  PoolView after_;
  const ledger::StatePtr state_;
  const v1::OrderState& order_;
  const v1::OrderDetails changed_;
  int64_t shift_ = 0;
  promise::Wish wish_;
  std::optional<promise::Placing> placing_;
  v1::AssessMoveResponse response_;
};

}  // namespace

absl::StatusOr<v1::AssessMoveResponse> AssessMove(ledger::Ledger& ledger, PromiseDesk& desk,
                                                  const v1::AssessMoveRequest& request,
                                                  int64_t now_us) {
  for (const auto& [given, date, name] :
       {std::make_tuple(true, &request.surgery_date(), "surgery_date"),
        std::make_tuple(request.has_needed_date(), &request.needed_date(), "needed_date"),
        std::make_tuple(request.has_discharge_date(), &request.discharge_date(),
                        "discharge_date")}) {
    if (given && !time::IsValid(*date)) {
      return absl::InvalidArgumentError(
          absl::StrCat(name, " is no day of the calendar; give one, for instance 2026-11-25"));
    }
  }
  absl::StatusOr<ledger::StatePtr> state = ledger.Get(request.name());
  if (!state.ok()) return state.status();
  if (!(*state)->has_order()) {
    return absl::InvalidArgumentError(
        absl::StrCat(request.name(), " is no order; give a name like orders/R-2001"));
  }
  const v1::OrderState& order = (*state)->order();
  if (absl::Status status = Check(order); !status.ok()) return status;
  const auto view = PoolView::Read(ledger, desk, order.details().branch(),
                                   order.details().device_class(), now_us);
  if (!view.ok()) return view.status();
  return Preview(*view, *state, Moved(order.details(), request)).Fill();
}

}  // namespace ferrule::board
