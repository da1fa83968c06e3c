#include "core/trace/proof.h"

#include <algorithm>
#include <utility>

#include "absl/strings/str_cat.h"
#include "core/bench/replay.h"
#include "core/fact/subject.h"
#include "core/finding/catalog.h"
#include "core/fold/zone.h"
#include "core/ledger/history.h"
#include "core/ledger/span_rows.h"
#include "core/time/civil.h"
#include "core/trace/queries.h"
#include "core/trace/spans.h"
#include "core/unit/ready.h"

namespace ferrule::trace {
namespace {

using store::Value;

constexpr int kMostLegs = 500;

// The order under which this fact takes the unit out; empty when it does not.
std::string OrderOfIssue(const v1::Fact& fact, const std::string& unit) {
  if (fact.has_handed_over()) return fact.handed_over().order();
  if (fact.has_exchanged() && fact.exchanged().unit_in() == unit) return fact.exchanged().order();
  return "";
}

void PutOverrides(const v1::Fact& fact, const v1::ProofLeg& broken, v1::ProofLeg* leg) {
  for (const v1::Override& set_aside : fact.overrides()) {
    for (const v1::Finding& finding : broken.broken()) {
      if (finding.reason() != set_aside.rule()) continue;
      v1::OverrideUsed* used = leg->add_overrides();
      *used->mutable_finding() = finding;
      used->set_authority(set_aside.authority());
      used->set_because(set_aside.because());
    }
  }
}

v1::ProofLeg LegOf(const bench::Moment& moment, const std::string& unit_name,
                   const std::string& order, const depot::SettingsBook& book) {
  v1::ProofLeg leg;
  const v1::UnitState& before = moment.before;
  leg.set_unit(before.unit());
  leg.set_order(order);
  if (before.has_returned()) *leg.mutable_returned() = before.returned();
  if (before.hygiene() == v1::HYGIENE_CLEANED) *leg.mutable_cleaned() = before.cleaned();
  if (before.erased_since_return()) *leg.mutable_erased() = before.erased();
  if (before.inspection().has_done()) {
    *leg.mutable_inspected() = before.inspection().done();
    leg.set_checklist(absl::StrCat(before.inspection().checklist(), " version ",
                                   before.inspection().checklist_version(), ": ",
                                   before.inspection().passed() ? "passed" : "failed"));
  }
  *leg.mutable_issued() = moment.stamp;
  v1::SubjectState state;
  state.set_name(unit_name);
  *state.mutable_unit() = before;
  unit::ReadyQuery query;
  query.at_us = moment.view.happened_us;
  query.order = order;
  bool whole = true;
  for (v1::Finding& finding : unit::Assess(state, book, query)) {
    whole = whole && !IsOfChain(finding.reason());
    finding::PutIntoWords(fold::ZoneOf(&state, book.At(query.at_us)), &finding);
    *leg.add_broken() = std::move(finding);
  }
  PutOverrides(moment.view.fact(), leg, &leg);
  leg.set_whole(whole);
  return leg;
}

absl::StatusOr<std::vector<v1::ProofLeg>> LegsOfUnit(store::Connection& connection, int64_t id,
                                                     const std::string& name, int64_t through,
                                                     const depot::SettingsBook& book) {
  ledger::History history;
  if (absl::Status loaded = history.Load(connection, id, through); !loaded.ok()) return loaded;
  return LegsOf(name, history.views(), book);
}

void PutLots(store::Connection& connection, const std::string& order_name,
             v1::GetProofResponse* response, absl::Status* status) {
  const Value parameters[] = {Value::Text(order_name), Value::Int(INT64_MIN), Value::Int(INT64_MAX),
                              Value::Int(INT64_MIN), Value::Int(INT64_MAX)};
  *status = connection.Run(sql::kSpansOfHolder, parameters, [&](const store::Row& row) {
    const fold::Span span = ledger::SpanFromRow(row, 0);
    if (span.kind != v1::SPAN_KIND_USE) return;
    // With the unit that was there when it was given; the first one for what came before.
    v1::ProofLeg* leg = nullptr;
    for (v1::ProofLeg& one : *response->mutable_legs()) {
      if (leg == nullptr || time::ToMicros(one.issued().time()) <= span.from_us) leg = &one;
    }
    if (leg != nullptr) PutSpan(std::string(row.Bytes(8)), span, leg->add_lots());
  });
}

}  // namespace

bool IsOfChain(v1::Reason reason) {
  const bool of_ground = reason >= v1::REASON_CONTAMINATED && reason <= v1::REASON_ON_HOLD;
  const bool of_bench = reason >= 220 && reason < 250;
  return of_ground || of_bench;
}

std::vector<v1::ProofLeg> LegsOf(const std::string& unit_name, std::vector<fact::FactView> facts,
                                 const depot::SettingsBook& book) {
  std::vector<v1::ProofLeg> legs;
  bench::Replay(unit_name, std::move(facts), book, [&](const bench::Moment& moment) {
    const std::string order = OrderOfIssue(moment.view.fact(), moment.after.unit());
    if (!order.empty()) {
      legs.push_back(LegOf(moment, unit_name, order, book));
    } else if (moment.before.custody() == v1::CUSTODY_HOME &&
               moment.after.custody() != v1::CUSTODY_HOME && !legs.empty()) {
      *legs.back().mutable_ended() = moment.stamp;
    }
  });
  return legs;
}

absl::StatusOr<v1::GetProofResponse> GetProof(ledger::Ledger& ledger,
                                              const v1::GetProofRequest& request,
                                              int64_t /*now_us*/) {
  const bool then = request.has_known_time();
  const int64_t known_us = time::ToMicros(request.known_time());
  auto state = then ? ledger.GetKnownAt(request.name(), known_us) : ledger.Get(request.name());
  if (!state.ok()) return state.status();
  if (!(*state)->has_order()) {
    return absl::InvalidArgumentError(
        absl::StrCat(request.name(), " is no order; give one, for instance orders/R-2001"));
  }
  auto book = then ? ledger.BookKnownAt(known_us)
                   : absl::StatusOr<std::shared_ptr<const depot::SettingsBook>>(ledger.Book());
  if (!book.ok()) return book.status();
  v1::GetProofResponse response;
  response.set_name(request.name());
  const v1::OrderState& order = (*state)->order();
  absl::Status status = ledger.WithReader([&](store::Connection& connection) -> absl::Status {
    int64_t through = ledger.head().sequence;
    if (then) {
      auto known = ledger::SequenceKnownAt(connection, known_us, through);
      if (!known.ok()) return known.status();
      through = *known;
    }
    std::vector<std::string> seen;
    for (const v1::RentalLeg& rental : order.legs()) {
      if (std::find(seen.begin(), seen.end(), rental.unit()) != seen.end()) continue;
      seen.push_back(rental.unit());
      const std::string name = fact::SubjectName(fact::SubjectKind::kUnit, rental.unit());
      absl::StatusOr<int64_t> id = SubjectId(connection, name);
      if (!id.ok()) return id.status();
      auto legs = LegsOfUnit(connection, *id, name, through, **book);
      if (!legs.ok()) return legs.status();
      for (v1::ProofLeg& leg : *legs) {
        if (leg.order() == order.order()) *response.add_legs() = std::move(leg);
      }
    }
    absl::Status lots;
    PutLots(connection, request.name(), &response, &lots);
    return lots;
  });
  if (!status.ok()) return status;
  auto* legs = response.mutable_legs();
  std::sort(legs->begin(), legs->end(), [](const v1::ProofLeg& a, const v1::ProofLeg& b) {
    return time::ToMicros(a.issued().time()) < time::ToMicros(b.issued().time());
  });
  response.set_whole(!legs->empty() && std::all_of(legs->begin(), legs->end(),
                                                   [](const auto& leg) { return leg.whole(); }));
  return response;
}

absl::StatusOr<v1::ReportViolationsResponse> ReportViolations(
    ledger::Ledger& ledger, const v1::ReportViolationsRequest& request, int64_t /*now_us*/) {
  const int64_t from_us = request.has_from_time() ? time::ToMicros(request.from_time()) : INT64_MIN;
  const int64_t to_us = request.has_to_time() ? time::ToMicros(request.to_time()) : INT64_MAX;
  const auto book = ledger.Book();
  v1::ReportViolationsResponse response;
  absl::Status status = ledger.WithReader([&](store::Connection& connection) -> absl::Status {
    std::vector<std::pair<int64_t, std::string>> units;
    const Value parameters[] = {Value::Int(from_us), Value::Int(to_us)};
    absl::Status found = connection.Run(sql::kUnitsIssued, parameters, [&](const store::Row& row) {
      units.emplace_back(row.Int(0), std::string(row.Bytes(1)));
    });
    if (!found.ok()) return found;
    for (const auto& [id, name] : units) {
      auto legs = LegsOfUnit(connection, id, name, ledger.head().sequence, *book);
      if (!legs.ok()) return legs.status();
      for (v1::ProofLeg& leg : *legs) {
        const int64_t issued_us = time::ToMicros(leg.issued().time());
        if (issued_us < from_us || issued_us >= to_us) continue;
        response.set_issue_count(response.issue_count() + 1);
        if (!leg.overrides().empty()) response.set_override_count(response.override_count() + 1);
        if (leg.whole() && leg.overrides().empty()) {
          response.set_whole_count(response.whole_count() + 1);
        } else if (response.legs_size() == kMostLegs) {
          response.set_left_out_count(response.left_out_count() + 1);
        } else {
          *response.add_legs() = std::move(leg);
        }
      }
    }
    return absl::OkStatus();
  });
  if (!status.ok()) return status;
  return response;
}

}  // namespace ferrule::trace
