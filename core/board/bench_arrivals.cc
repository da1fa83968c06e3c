#include "core/board/bench_arrivals.h"

#include <algorithm>

#include "absl/strings/str_cat.h"
#include "core/bench/proposals.h"
#include "core/board/bench_policy.h"
#include "core/board/bench_queries.h"
#include "core/board/unit_facts.h"
#include "core/depot/known.h"
#include "core/fact/subject.h"
#include "core/fact/validate.h"
#include "core/fold/fold.h"
#include "core/order/due.h"
#include "core/time/civil.h"

namespace ferrule::board {
namespace {

using store::Value;

// Questions that a unit raises by being where the records do not have it, or not being what they
// say.
bool IsStray(v1::Reason reason) {
  switch (reason) {
    case v1::REASON_NOT_PICKED_UP:
    case v1::REASON_NOT_AT_THAT_HOME:
    case v1::REASON_NOT_AT_THAT_PLACE:
    case v1::REASON_UNACCOUNTED:
    case v1::REASON_LEFT_FLEET:
    case v1::REASON_OTHER_SERIAL_SEEN:
    case v1::REASON_OTHER_PART_SEEN:
      return true;
    default:
      return false;
  }
}

// Looks up what else is known around a finding.
class Explanations {
 public:
  Explanations(ledger::Ledger& ledger, const depot::SettingsBook& book)
      : ledger_(ledger), book_(book) {}

  void AddOtherQuestions(std::vector<v1::Finding> questions) { others_ = std::move(questions); }

  // `state` is the unit as it is, or as it was before a receipt that is only supposed.
  absl::StatusOr<std::vector<v1::Proposal>> Of(const v1::Finding& finding,
                                               const v1::SubjectState& state,
                                               const std::string& place, int64_t at_us) {
    bench::Surroundings around;
    around.unit = &state.unit();
    around.at_us = at_us;
    around.place = place;
    around.other_questions = others_;
    const auto order = StateOf(fact::SubjectKind::kOrder, bench::ValueOf(finding, "order"));
    if (!order.ok()) return order.status();
    if (*order != nullptr) {
      around.order = &(*order)->order();
      if (const auto due = order::Due(*around.order, book_)) {
        around.order_due = time::ToDay(due->date());
      }
    }
    absl::Status read = absl::OkStatus();
    if (finding.reason() == v1::REASON_OTHER_SERIAL_SEEN) {
      read = BySerial(bench::ValueOf(finding, "found"), &around.with_serial);
    } else if (finding.reason() == v1::REASON_NOT_PICKED_UP) {
      read = LikeIt(state.unit(), place, &around.like_it);
    }
    if (!read.ok()) return read;
    absl::StatusOr<ledger::StatePtr> part = ledger::StatePtr();
    v1::PartState before;
    if (finding.reason() == v1::REASON_OTHER_PART_SEEN) {
      part = StateOf(fact::SubjectKind::kPart, bench::ValueOf(finding, "found"));
      if (!part.ok()) return part.status();
      if (*part != nullptr) before = PartBefore(**part, state.unit().unit());
      around.part = &before;
    }
    return bench::Explain(finding, around, book_.At(at_us));
  }

 private:
  absl::StatusOr<ledger::StatePtr> StateOf(fact::SubjectKind kind, const std::string& id) {
    if (!fact::IsValidId(id)) return ledger::StatePtr();
    auto state = ledger_.Get(fact::SubjectName(kind, id));
    if (absl::IsNotFound(state.status())) return ledger::StatePtr();
    return state;
  }

  // A part that was seen here is here in the records; its own question says where it came from.
  static v1::PartState PartBefore(const v1::SubjectState& state, const std::string& unit) {
    v1::PartState part = state.part();
    if (part.unit() != unit) return part;
    part.clear_unit();
    for (const v1::Finding& question : state.questions()) {
      if (question.reason() != v1::REASON_PART_IN_OTHER_UNIT) continue;
      part.set_unit(bench::ValueOf(question, "unit"));
      part.set_position(bench::ValueOf(question, "position"));
      if (question.evidence_size() > 0) *part.mutable_since() = question.evidence(0);
    }
    return part;
  }

  absl::Status Units(const store::Sql& sql, std::initializer_list<Value> parameters,
                     absl::FunctionRef<void(const v1::UnitState&)> visit) {
    return ledger_.WithReader([&](store::Connection& connection) {
      const std::vector<Value> values(parameters);
      return connection.Run(sql, values, [&](const store::Row& row) {
        v1::SubjectState state;
        const std::string_view bytes = row.Bytes(0);
        if (state.ParseFromArray(bytes.data(), static_cast<int>(bytes.size()))) {
          visit(state.unit());
        }
      });
    });
  }

  absl::Status BySerial(const std::string& serial, std::vector<v1::UnitState>* out) {
    return Units(sql::kUnitsBySerial, {Value::Text(serial)},
                 [out](const v1::UnitState& unit) { out->push_back(unit); });
  }

  // Units of the class at the branch that have not been seen since this one went out.
  absl::Status LikeIt(const v1::UnitState& unit, const std::string& place,
                      std::vector<v1::UnitState>* out) {
    const depot::Rules& rules = book_.At(time::ToMicros(unit.received().time()));
    const v1::Model* model = rules.FindModel(unit.model());
    const v1::Branch* branch = rules.BranchOfPlace(place);
    if (model == nullptr || branch == nullptr) return absl::OkStatus();
    const int64_t out_us = time::ToMicros(unit.kit().set_out().time());
    return Units(sql::kFleetOfClass,
                 {Value::Text(model->device_class()), Value::Text(branch->id())},
                 [&](const v1::UnitState& other) {
                   const bool unseen = time::ToMicros(other.custody_since().time()) <= out_us &&
                                       other.unit() != unit.unit();
                   if (unseen) out->push_back(other);
                 });
  }

  ledger::Ledger& ledger_;
  const depot::SettingsBook& book_;
  std::vector<v1::Finding> others_;
};

// Units that were picked up and still lie on the soiled side of a van after the hours of the
// policy.
absl::Status AddNotReceived(ledger::Ledger& ledger, const depot::Rules& rules,
                            const std::string& branch, int64_t now_us,
                            v1::ReportStraysResponse* response) {
  constexpr int64_t kHourUs = int64_t{3'600} * 1'000'000;
  return ledger.WithReader([&](store::Connection& connection) {
    return EachUnit(connection, {branch, ""}, [&](const v1::SubjectState& state, std::string_view) {
      const v1::UnitState& unit = state.unit();
      const v1::Place* place = rules.FindPlace(unit.place());
      if (unit.custody() != v1::CUSTODY_PLACE || place == nullptr ||
          place->kind() != v1::PLACE_KIND_VAN_DIRTY || !unit.kit().has_pickup()) {
        return;
      }
      const int64_t hours = (now_us - time::ToMicros(unit.custody_since().time())) / kHourUs;
      if (hours < VanHours(rules)) return;
      v1::Stray* stray = response->add_strays();
      stray->set_unit(unit.unit());
      stray->set_place(unit.place());
      v1::Finding* finding = stray->mutable_question();
      finding->set_reason(v1::REASON_NOT_RECEIVED);
      finding->set_subject(state.name());
      *finding->add_evidence() = unit.kit().pickup();
      for (const auto& [key, value] :
           {std::pair("place", unit.place()), std::pair("found", std::to_string(hours))}) {
        v1::FindingValue* v = finding->add_values();
        v->set_key(key);
        v->set_value(value);
      }
    });
  });
}

}  // namespace

absl::StatusOr<v1::AssessReturnResponse> AssessReturn(ledger::Ledger& ledger,
                                                      const v1::AssessReturnRequest& request,
                                                      int64_t now_us) {
  const int64_t at_us = request.has_at_time() ? time::ToMicros(request.at_time()) : now_us;
  v1::Entry entry;
  entry.set_entry_id("supposed");
  entry.set_actor("supposed");
  entry.set_mode(v1::ENTRY_MODE_OBSERVED);
  v1::Fact* fact = entry.add_facts();
  time::SetMicros(at_us, fact->mutable_happened_time());
  *fact->mutable_received_back() = request.seen();
  for (const fact::Violation& violation : fact::Validate(entry)) {
    return absl::InvalidArgumentError(absl::StrCat(violation.field, " ", violation.description));
  }
  const auto book = ledger.Book();
  absl::Status known = depot::KnowPlace(book->At(at_us), request.seen().place());
  if (!known.ok()) return known;
  const std::string name = fact::SubjectName(fact::SubjectKind::kUnit, request.seen().unit());
  const auto before = ledger.Get(name);
  if (!before.ok()) return before.status();
  v1::SubjectState after = **before;
  after.clear_questions();
  after.clear_overrides();
  fold::Apply({&entry, 0, at_us, at_us, 0}, *book, &after);
  Explanations explanations(ledger, *book);
  v1::AssessReturnResponse response;
  for (const v1::Finding& question : after.questions()) {
    auto proposals = explanations.Of(question, **before, request.seen().place(), at_us);
    if (!proposals.ok()) return proposals.status();
    v1::Finding* finding = response.add_findings();
    *finding = question;
    finding->clear_fact();  // it is only supposed
    for (v1::Proposal& proposal : *proposals) *response.add_proposals() = std::move(proposal);
  }
  *response.mutable_expected() = (*before)->unit().kit();
  *response.mutable_parts() = (*before)->unit().parts();
  return response;
}

absl::StatusOr<v1::ReportStraysResponse> ReportStrays(ledger::Ledger& ledger,
                                                      const v1::ReportStraysRequest& request,
                                                      int64_t now_us) {
  const auto book = ledger.Book();
  const depot::Rules& rules = book->At(now_us);
  if (absl::Status known = depot::KnowBranch(rules, request.branch()); !known.ok()) return known;
  std::vector<v1::SubjectState> units;
  std::vector<v1::Finding> questions;
  bool readable = true;
  const absl::Status read = ledger.WithReader([&](store::Connection& connection) {
    return connection.Run(sql::kUnitsWithQuestions, {}, [&](const store::Row& row) {
      v1::SubjectState state;
      const std::string_view bytes = row.Bytes(0);
      readable &= state.ParseFromArray(bytes.data(), static_cast<int>(bytes.size()));
      bool stray = false;
      for (const v1::Finding& question : state.questions()) {
        if (!IsStray(question.reason())) continue;
        questions.push_back(question);
        stray = true;
      }
      const bool here = request.branch().empty() || row.Bytes(1) == request.branch();
      if (stray && here) units.push_back(std::move(state));
    });
  });
  if (!read.ok()) return read;
  v1::ReportStraysResponse response;
  const absl::Status vans = AddNotReceived(ledger, rules, request.branch(), now_us, &response);
  if (!vans.ok()) return vans;
  if (!readable) return absl::DataLossError("a stored state cannot be read; run: ferruled rebuild");
  Explanations explanations(ledger, *book);
  explanations.AddOtherQuestions(std::move(questions));
  for (const v1::SubjectState& state : units) {
    for (const v1::Finding& question : state.questions()) {
      if (!IsStray(question.reason())) continue;
      auto proposals =
          explanations.Of(question, state, state.unit().place(), time::ToMicros(question.time()));
      if (!proposals.ok()) return proposals.status();
      v1::Stray* stray = response.add_strays();
      stray->set_unit(state.unit().unit());
      stray->set_place(state.unit().place());
      *stray->mutable_question() = question;
      for (v1::Proposal& proposal : *proposals) *stray->add_proposals() = std::move(proposal);
    }
  }
  return response;
}

}  // namespace ferrule::board
