#include "core/cover/day_ledger.h"

#include <algorithm>
#include <deque>
#include <optional>
#include <string>
#include <vector>

#include "absl/strings/str_cat.h"
#include "core/cover/months.h"
#include "core/order/papers.h"
#include "core/order/stays.h"
#include "core/order/terms.h"
#include "core/time/civil.h"

namespace ferrule::cover {
namespace {

using order::Where;

constexpr int64_t kSecondUs = 1'000'000;

// One payer's terms for the order by one reading.
struct Terms {
  std::string payer;
  const v1::CoverRule* rule = nullptr;        // null: no terms for this order
  const v1::CoverReading* reading = nullptr;  // null: nothing is paid
  std::optional<absl::CivilDay> anchor;
  std::optional<absl::CivilDay> last;  // of cover; none without a limit
  order::Start start = order::Start::kInTime;
};

const v1::CoverReading* ReadingOf(const v1::CoverRule* rule, size_t reading) {
  if (rule == nullptr || rule->not_covered() || rule->readings().empty()) return nullptr;
  const size_t last = static_cast<size_t>(rule->readings_size()) - 1;
  return &rule->readings(static_cast<int>(std::min(reading, last)));
}

class Count {
 public:
  Count(const v1::OrderState& order, const depot::Rules& rules, size_t reading, const Until& until)
      : order_(order),
        rules_(rules),
        reading_(reading),
        touched_(TouchedDays(order, rules.ZoneOf(order.details().branch()), until)),
        prescribed_(order::Union(order::PrescribedDays(order))),
        stopped_(order::StoppedThrough(order)),
        surgery_(order::AnchorDay(order, v1::COVER_ANCHOR_SURGERY)),
        used_units_(static_cast<size_t>(order.authorisations_size()), 0) {}

  v1::DayLedger Run() {
    for (const TouchedDay& touched : touched_) Judge(touched);
    const Terms& first = TermsOf(order::FirstPayer(order_));
    LastDay();
    if (IsMonthly(first)) Months(*first.rule);
    PutTerms(first);
    Sum(first);
    return std::move(ledger_);
  }

 private:
  static bool IsMonthly(const Terms& terms) {
    return terms.rule != nullptr && terms.rule->billing_unit() == v1::BILLING_UNIT_MONTH;
  }

  const Terms& TermsOf(std::string_view payer) {
    for (const Terms& known : terms_) {
      if (known.payer == payer) return known;
    }
    Terms& terms = terms_.emplace_back();
    terms.payer = std::string(payer);
    terms.rule = order::FindCoverRule(order_, payer, rules_);
    terms.reading = ReadingOf(terms.rule, reading_);
    if (terms.reading == nullptr) return terms;
    terms.anchor = order::AnchorDay(order_, terms.reading->anchor());
    terms.last = order::CoverThrough(order_, *terms.rule, *terms.reading);
    terms.start = order::StartOf(order_, *terms.reading, rules_);
    return terms;
  }

  void Judge(const TouchedDay& touched) {
    v1::LedgerDay* day = ledger_.add_days();
    *day->mutable_date() = time::FromDay(touched.day);
    day->set_payer(std::string(order::PayerOn(order_, touched.day)));
    for (const std::string& unit : touched.units) {
      const auto& units = day->units();
      if (std::find(units.begin(), units.end(), unit) == units.end()) day->add_units(unit);
    }
    day->set_custody_s(touched.custody_us / kSecondUs);
    day->set_length_s(touched.length_us / kSecondUs);
    custody_us_ += touched.custody_us;
    thousandths_ += (touched.custody_us * 1000 + touched.length_us / 2) / touched.length_us;
    Judge(touched.day, day);
  }

  void Judge(absl::CivilDay date, v1::LedgerDay* day) {
    const Terms& terms = TermsOf(day->payer());
    const bool leaving_is_home = terms.rule != nullptr && terms.rule->admission_day_paid();
    const Where where = order::WhereOn(order_, date, leaving_is_home);
    if (where == Where::kDied) return Put(v1::DAY_STATE_IDLE, v1::DAY_REASON_AFTER_DEATH, day);
    if (surgery_ && date < *surgery_) {
      return Put(v1::DAY_STATE_IDLE, v1::DAY_REASON_BEFORE_SURGERY, day);
    }
    if (where == Where::kNotDischarged) {
      return Put(v1::DAY_STATE_IDLE, v1::DAY_REASON_BEFORE_DISCHARGE, day);
    }
    if (where == Where::kHospital || where == Where::kFacility) return JudgeAway(date, where, day);
    const order::Use use = order::UseOn(order_, date);
    if (use != order::Use::kUsed) {
      const bool not_yet = use == order::Use::kNotYet;
      return Put(v1::DAY_STATE_IDLE, not_yet ? v1::DAY_REASON_BEFORE_USE : v1::DAY_REASON_AFTER_USE,
                 day);
    }
    const v1::DayReason reason = AskTerms(date, terms);
    if (reason == v1::DAY_REASON_WITHIN_COVER) return Put(v1::DAY_STATE_COVERED, reason, day);
    Put(v1::DAY_STATE_NOT_COVERED, reason, day);
  }

  void JudgeAway(absl::CivilDay date, Where where, v1::LedgerDay* day) {
    const Terms& terms = TermsOf(day->payer());
    const bool paid = terms.rule != nullptr && !terms.rule->home_only() &&
                      terms.rule->away_days() == v1::AWAY_DAYS_PAID;
    if (paid && AskTerms(date, terms) == v1::DAY_REASON_WITHIN_COVER) {
      return Put(v1::DAY_STATE_COVERED, v1::DAY_REASON_AWAY_AND_PAID, day);
    }
    Put(v1::DAY_STATE_AWAY,
        where == Where::kHospital ? v1::DAY_REASON_IN_HOSPITAL : v1::DAY_REASON_IN_FACILITY, day);
  }

  static void Put(v1::DayState state, v1::DayReason reason, v1::LedgerDay* day) {
    day->set_state(state);
    day->set_reason(reason);
  }

  // Why the terms do not pay for a day of use; WITHIN_COVER when they do.
  v1::DayReason AskTerms(absl::CivilDay date, const Terms& terms) {
    if (order_.has_cancelled()) return v1::DAY_REASON_CANCELLED;
    if (rules_.FindPayer(terms.payer) == nullptr) return v1::DAY_REASON_NO_TERMS;
    if (terms.reading == nullptr) return v1::DAY_REASON_NOT_PAID_FOR;
    if (!terms.anchor || date < *terms.anchor) return v1::DAY_REASON_ANCHOR_MISSING;
    if (terms.start == order::Start::kTooLate) return v1::DAY_REASON_STARTED_LATE;
    if (const v1::DayReason reason = AskPapers(date); reason != v1::DAY_REASON_WITHIN_COVER) {
      return reason;
    }
    if (terms.last && date > *terms.last) return v1::DAY_REASON_AFTER_COVER;
    return terms.rule->needs_authorisation() ? AskAuthorisations(date, terms)
                                             : v1::DAY_REASON_WITHIN_COVER;
  }

  // An order without a length of need and without papers says nothing about days.
  v1::DayReason AskPapers(absl::CivilDay date) const {
    const bool after_stop = stopped_ && date > *stopped_;
    if (prescribed_.empty()) {
      return after_stop ? v1::DAY_REASON_AFTER_STOP : v1::DAY_REASON_WITHIN_COVER;
    }
    for (const order::Days& days : prescribed_) {
      if (days.Has(date)) return v1::DAY_REASON_WITHIN_COVER;
    }
    if (after_stop) return v1::DAY_REASON_AFTER_STOP;
    return date < prescribed_.back().end ? v1::DAY_REASON_HOLE : v1::DAY_REASON_AFTER_PRESCRIPTION;
  }

  // Of several authorisations the first one with units left pays for the day. Monthly terms count
  // units by month.
  v1::DayReason AskAuthorisations(absl::CivilDay date, const Terms& terms) {
    bool any = false;
    for (int i = 0; i < order_.authorisations_size(); ++i) {
      const v1::Authorisation& a = order_.authorisations(i);
      if (date < time::ToDay(a.from_date()) || time::ToDay(a.through_date()) < date) continue;
      any = true;
      if (a.unit_count() == 0 || IsMonthly(terms)) return v1::DAY_REASON_WITHIN_COVER;
      if (used_units_[static_cast<size_t>(i)] >= a.unit_count()) continue;
      ++used_units_[static_cast<size_t>(i)];
      return v1::DAY_REASON_WITHIN_COVER;
    }
    return any ? v1::DAY_REASON_UNITS_USED_UP : v1::DAY_REASON_NOT_AUTHORISED;
  }

  static bool InUse(const v1::LedgerDay& day) {
    return day.state() == v1::DAY_STATE_COVERED || day.state() == v1::DAY_STATE_NOT_COVERED;
  }

  // The last day of use, once it is known to be the last.
  void LastDay() {
    for (auto day = ledger_.mutable_days()->rbegin(); day != ledger_.mutable_days()->rend();
         ++day) {
      if (!InUse(*day)) continue;
      const absl::CivilDay date = time::ToDay(day->date());
      const bool over = !IsOut(order_) || order::UseOn(order_, date + 1) == order::Use::kNoLonger;
      const Terms& terms = TermsOf(day->payer());
      if (over && terms.rule != nullptr && terms.rule->last_day_not_paid() &&
          day->state() == v1::DAY_STATE_COVERED) {
        Put(v1::DAY_STATE_NOT_COVERED, v1::DAY_REASON_LAST_DAY, &*day);
      }
      return;
    }
  }

  void Months(const v1::CoverRule& rule) {
    std::vector<absl::CivilDay> used;
    for (const v1::LedgerDay& day : ledger_.days()) {
      if (day.state() == v1::DAY_STATE_COVERED) used.push_back(time::ToDay(day.date()));
    }
    for (const Month& month : MonthsOf(used, rule.interruption_days(), rule.month_rule())) {
      v1::RentalMonth* out = ledger_.add_months();
      out->set_period(month.period);
      out->set_month(month.number);
      *out->mutable_from_date() = time::FromDay(month.from);
      *out->mutable_through_date() = time::FromDay(month.end - 1);
      out->set_covered((rule.most_months() == 0 || month.number <= rule.most_months()) &&
                       (!rule.needs_authorisation() || TakeMonth(month.used.front())));
      if (!out->covered()) UsedUp(month);
    }
  }

  // Takes a unit of an authorisation for a month, if one is left.
  bool TakeMonth(absl::CivilDay date) {
    for (int i = 0; i < order_.authorisations_size(); ++i) {
      const v1::Authorisation& a = order_.authorisations(i);
      if (date < time::ToDay(a.from_date()) || time::ToDay(a.through_date()) < date) continue;
      if (a.unit_count() != 0 && used_units_[static_cast<size_t>(i)] >= a.unit_count()) continue;
      ++used_units_[static_cast<size_t>(i)];
      return true;
    }
    return false;
  }

  void UsedUp(const Month& month) {
    for (v1::LedgerDay& day : *ledger_.mutable_days()) {
      const bool of_month =
          std::binary_search(month.used.begin(), month.used.end(), time::ToDay(day.date()));
      if (of_month) Put(v1::DAY_STATE_NOT_COVERED, v1::DAY_REASON_UNITS_USED_UP, &day);
    }
  }

  void PutTerms(const Terms& first) {
    ledger_.set_billing_unit(IsMonthly(first) ? v1::BILLING_UNIT_MONTH : v1::BILLING_UNIT_DAY);
    if (first.reading == nullptr) return;
    ledger_.set_reading(first.reading->id());
    ledger_.set_source(first.reading->source().empty() ? first.rule->source()
                                                       : first.reading->source());
    if (first.anchor) *ledger_.mutable_cover_from_date() = time::FromDay(*first.anchor);
    if (first.last) *ledger_.mutable_cover_through_date() = time::FromDay(*first.last);
  }

  void Sum(const Terms& first) {
    int64_t amount = 0;
    int covered = 0;
    int not_covered = 0;
    int away = 0;
    int idle = 0;
    for (const v1::LedgerDay& day : ledger_.days()) {
      covered += day.state() == v1::DAY_STATE_COVERED;
      not_covered += day.state() == v1::DAY_STATE_NOT_COVERED;
      away += day.state() == v1::DAY_STATE_AWAY;
      idle += day.state() == v1::DAY_STATE_IDLE;
      if (InUse(day) && !ledger_.has_service_date()) *ledger_.mutable_service_date() = day.date();
      const Terms& terms = TermsOf(day.payer());
      if (day.state() == v1::DAY_STATE_COVERED && !IsMonthly(terms)) {
        amount += terms.rule->amount_minor();
      }
    }
    int billable = covered;
    if (IsMonthly(first)) {
      const auto& months = ledger_.months();
      billable = static_cast<int>(std::count_if(
          months.begin(), months.end(), [](const v1::RentalMonth& m) { return m.covered(); }));
      amount += billable * first.rule->amount_minor();
    }
    ledger_.set_covered_count(covered);
    ledger_.set_not_covered_count(not_covered);
    ledger_.set_away_count(away);
    ledger_.set_idle_count(idle);
    ledger_.set_touched_count(ledger_.days_size());
    ledger_.set_billable_count(billable);
    ledger_.set_amount_minor(amount);
    ledger_.set_custody_s(custody_us_ / kSecondUs);
    ledger_.set_custody_day_thousandths(thousandths_);
  }

  const v1::OrderState& order_;
  const depot::Rules& rules_;
  const size_t reading_;
  const std::vector<TouchedDay> touched_;
  const std::vector<order::Days> prescribed_;
  const std::optional<absl::CivilDay> stopped_;
  const std::optional<absl::CivilDay> surgery_;
  std::vector<int> used_units_;  // of each authorisation
  std::deque<Terms> terms_;      // of the payers met so far; references stay good
  v1::DayLedger ledger_;
  int64_t custody_us_ = 0;
  int64_t thousandths_ = 0;
};

void PutDifferences(v1::GetDayLedgerResponse* response) {
  const auto& ledgers = response->ledgers();
  for (int i = 0; i < ledgers[0].days_size(); ++i) {
    const bool differ = std::any_of(ledgers.begin(), ledgers.end(), [&](const v1::DayLedger& l) {
      return l.days(i).state() != ledgers[0].days(i).state();
    });
    if (!differ) continue;
    v1::DayDifference* difference = response->add_differences();
    *difference->mutable_date() = ledgers[0].days(i).date();
    for (const v1::DayLedger& ledger : ledgers) difference->add_states(ledger.days(i).state());
  }
}

}  // namespace

bool IsOut(const v1::OrderState& order) {
  return std::any_of(order.legs().begin(), order.legs().end(),
                     [](const v1::RentalLeg& leg) { return !leg.has_to(); });
}

size_t CountReadings(const v1::OrderState& order, const depot::Rules& rules) {
  int most = 1;
  const auto look = [&](std::string_view payer) {
    const v1::CoverRule* rule = order::FindCoverRule(order, payer, rules);
    if (rule != nullptr && !rule->not_covered()) most = std::max(most, rule->readings_size());
  };
  look(order::FirstPayer(order));
  for (const v1::PayerPeriod& period : order.payers()) look(period.payer());
  return static_cast<size_t>(most);
}

v1::DayLedger CountDays(const v1::OrderState& order, const depot::Rules& rules, size_t reading,
                        const Until& until) {
  return Count(order, rules, reading, until).Run();
}

v1::GetDayLedgerResponse CountByEveryReading(const v1::OrderState& order, const depot::Rules& rules,
                                             const Until& until) {
  v1::GetDayLedgerResponse response;
  response.set_name(absl::StrCat("orders/", order.order()));
  response.set_patient(order.details().patient());
  response.set_side(order.details().side());
  response.set_device_class(order.details().device_class());
  response.set_open(IsOut(order));
  response.set_settings_version(rules.settings().version());
  const size_t readings = CountReadings(order, rules);
  for (size_t i = 0; i < readings; ++i) {
    *response.add_ledgers() = CountDays(order, rules, i, until);
  }
  PutDifferences(&response);
  return response;
}

}  // namespace ferrule::cover
