#include "core/board/cover_reports.h"

#include <algorithm>
#include <map>
#include <optional>
#include <string>
#include <tuple>
#include <utility>
#include <vector>

#include "absl/strings/str_join.h"
#include "core/board/queries.h"
#include "core/cover/day_ledger.h"
#include "core/depot/known.h"
#include "core/order/missing.h"
#include "core/order/stays.h"
#include "core/order/terms.h"
#include "core/time/civil.h"

namespace ferrule::board {
namespace {

using store::Value;

// Terms of a rental are those in force when it began.
const depot::Rules& RulesOf(const v1::OrderState& order, const depot::SettingsBook& book) {
  return book.At(time::ToMicros(order.handed_over().time()));
}

bool InUse(const v1::LedgerDay& day) {
  return day.state() == v1::DAY_STATE_COVERED || day.state() == v1::DAY_STATE_NOT_COVERED;
}

// The payers of a rental's days of use, in the order of the days.
std::vector<std::string> PayersOf(const v1::DayLedger& ledger) {
  std::vector<std::string> payers;
  for (const v1::LedgerDay& day : ledger.days()) {
    if (!InUse(day)) continue;
    if (std::find(payers.begin(), payers.end(), day.payer()) == payers.end()) {
      payers.push_back(day.payer());
    }
  }
  return payers;
}

class Claims {
 public:
  Claims(const v1::ReportClaimsRequest& request, const depot::SettingsBook& book, int64_t at_us)
      : request_(request), book_(book), at_us_(at_us) {}

  void Add(const v1::OrderState& order) {
    if (!order.has_handed_over()) return;
    const std::string& branch = order.details().branch();
    if (!request_.branch().empty() && branch != request_.branch()) return;
    if (cover::IsOut(order) && !request_.open_rentals()) return;
    const depot::Rules& rules = RulesOf(order, book_);
    const v1::DayLedger ledger = cover::CountDays(order, rules, 0, UntilOf(order, rules));
    if (!IsAskedFor(ledger)) return;
    std::vector<v1::MissingItem> missing = order::Missing(order, rules);
    missing.erase(std::remove_if(missing.begin(), missing.end(),
                                 [](const v1::MissingItem& m) { return !m.to_bill(); }),
                  missing.end());
    for (const std::string& payer : PayersOf(ledger)) {
      if (missing.empty()) {
        PutClaim(order, ledger, payer, rules);
      } else {
        PutRefused(order, payer, missing);
      }
    }
  }

  v1::ReportClaimsResponse Take() {
    const auto before = [](const auto* a, const auto* b) {
      return std::tie(a->branch(), a->order()) < std::tie(b->branch(), b->order());
    };
    auto* claims = response_.mutable_claims();
    std::stable_sort(claims->pointer_begin(), claims->pointer_end(), before);
    auto* refused = response_.mutable_refused();
    std::stable_sort(refused->pointer_begin(), refused->pointer_end(), before);
    return std::move(response_);
  }

 private:
  cover::Until UntilOf(const v1::OrderState& order, const depot::Rules& rules) const {
    const absl::TimeZone zone = rules.ZoneOf(order.details().branch());
    const absl::CivilDay today = time::LocalDay(at_us_, zone);
    if (!request_.has_through_date()) return {today, at_us_};
    const absl::CivilDay through = time::ToDay(request_.through_date());
    return {through, time::StartOfDayMicros(through + 1, zone)};
  }

  bool IsAskedFor(const v1::DayLedger& ledger) const {
    return std::any_of(ledger.days().begin(), ledger.days().end(), [this](const v1::LedgerDay& d) {
      return InUse(d) && IsAskedFor(time::ToDay(d.date()));
    });
  }
  bool IsAskedFor(absl::CivilDay day) const {
    if (request_.has_from_date() && day < time::ToDay(request_.from_date())) return false;
    return !request_.has_through_date() || day <= time::ToDay(request_.through_date());
  }

  void PutRefused(const v1::OrderState& order, const std::string& payer,
                  const std::vector<v1::MissingItem>& missing) {
    v1::RefusedClaim* refused = response_.add_refused();
    refused->set_branch(order.details().branch());
    refused->set_order(order.order());
    refused->set_payer(payer);
    for (const v1::MissingItem& item : missing) *refused->add_missing() = item;
  }

  void PutClaim(const v1::OrderState& order, const v1::DayLedger& ledger, const std::string& payer,
                const depot::Rules& rules) {
    const v1::OrderDetails& details = order.details();
    v1::ClaimRow* row = response_.add_claims();
    row->set_branch(details.branch());
    row->set_order(order.order());
    row->set_patient(details.patient());
    row->set_payer(payer);
    row->set_device_class(details.device_class());
    row->set_side(details.side());
    row->set_procedure(details.procedure().empty() ? details.procedure_code()
                                                   : details.procedure());
    if (details.has_surgery_date()) *row->mutable_surgery_date() = details.surgery_date();
    if (const v1::UsePoint* first = order::FirstUse(order)) {
      *row->mutable_application_date() = first->date();
    }
    if (const auto discharge = order::DischargeDay(order)) {
      *row->mutable_discharge_date() = time::FromDay(*discharge);
    }
    if (!order.authorisations().empty()) {
      row->set_authorisation(order.authorisations(0).number());
    }
    for (const v1::BilledDays& billed : order.billed()) {
      if (!billed.correction()) row->set_billed_count(row->billed_count() + billed.unit_count());
    }
    row->set_reading(ledger.reading());
    const v1::CoverRule* rule = order::FindCoverRule(order, payer, rules);
    PutItem(rule, details.side(), row);
    PutUnits(ledger, payer, rule, row);
  }

  static void PutItem(const v1::CoverRule* rule, v1::Side side, v1::ClaimRow* row) {
    if (rule == nullptr) return;
    row->set_billing_code(rule->billing_code());
    std::vector<std::string> modifiers(rule->modifiers().begin(), rule->modifiers().end());
    const std::string& of_side =
        side == v1::SIDE_RIGHT ? rule->right_modifier() : rule->left_modifier();
    const bool sided = side == v1::SIDE_LEFT || side == v1::SIDE_RIGHT;
    if (sided && !of_side.empty()) modifiers.push_back(of_side);
    row->set_modifiers(absl::StrJoin(modifiers, " "));
  }

  // Days after cover are listed with their count and not dropped: the payer refuses them itself.
  void PutUnits(const v1::DayLedger& ledger, const std::string& payer, const v1::CoverRule* rule,
                v1::ClaimRow* row) const {
    int units = 0;
    int covered = 0;
    for (const v1::LedgerDay& day : ledger.days()) {
      if (!InUse(day) || day.payer() != payer) continue;
      if (!IsAskedFor(time::ToDay(day.date()))) continue;
      if (units++ == 0) *row->mutable_from_date() = day.date();
      *row->mutable_through_date() = day.date();
      covered += day.state() == v1::DAY_STATE_COVERED;
    }
    if (rule != nullptr && rule->billing_unit() == v1::BILLING_UNIT_MONTH) {
      units = 0;
      covered = 0;
      for (const v1::RentalMonth& month : ledger.months()) {
        if (!IsAskedFor(time::ToDay(month.from_date()))) continue;
        ++units;
        covered += month.covered();
      }
    }
    row->set_unit_count(units);
    row->set_covered_count(covered);
    if (rule != nullptr) row->set_amount_minor(covered * rule->amount_minor());
  }

  const v1::ReportClaimsRequest& request_;
  const depot::SettingsBook& book_;
  const int64_t at_us_;
  v1::ReportClaimsResponse response_;
};

}  // namespace

absl::StatusOr<v1::ReportClaimsResponse> ReportClaims(ledger::Ledger& ledger,
                                                      const v1::ReportClaimsRequest& request,
                                                      int64_t now_us) {
  const bool known_then = request.has_known_time();
  const int64_t at_us = known_then ? time::ToMicros(request.known_time()) : now_us;
  for (const auto& [given, date] :
       {std::pair(request.has_from_date(), request.from_date()),
        std::pair(request.has_through_date(), request.through_date())}) {
    if (given && !time::IsValid(date)) {
      return absl::InvalidArgumentError("from_date or through_date is no day of the calendar");
    }
  }
  std::shared_ptr<const depot::SettingsBook> book = ledger.Book();
  if (known_then) {
    auto known = ledger.BookKnownAt(at_us);
    if (!known.ok()) return known.status();
    book = *std::move(known);
  }
  if (absl::Status branch = depot::KnowBranch(book->At(at_us), request.branch()); !branch.ok()) {
    return branch;
  }
  Claims claims(request, *book, at_us);
  if (known_then) {
    const absl::Status folded =
        ledger.EachKnownAt(at_us, [&](const v1::SubjectState& state, const fold::Columns&) {
          if (state.has_order()) claims.Add(state.order());
        });
    if (!folded.ok()) return folded;
    return claims.Take();
  }
  bool readable = true;
  const Value parameters[] = {Value::Text(request.branch())};
  const absl::Status read = ledger.WithReader([&](store::Connection& connection) {
    return connection.Run(sql::kRentalStates, parameters, [&](const store::Row& row) {
      v1::SubjectState state;
      const std::string_view bytes = row.Bytes(0);
      readable &= state.ParseFromArray(bytes.data(), static_cast<int>(bytes.size()));
      claims.Add(state.order());
    });
  });
  if (!read.ok()) return read;
  if (!readable) return absl::DataLossError("a stored state cannot be read; run: ferruled rebuild");
  return claims.Take();
}

}  // namespace ferrule::board
