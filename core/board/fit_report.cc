#include "core/board/fit_report.h"

#include <algorithm>
#include <tuple>
#include <utility>

#include "absl/strings/str_cat.h"
#include "core/depot/known.h"
#include "core/fact/promise.h"
#include "core/order/measures.h"
#include "core/order/unfit.h"
#include "core/time/civil.h"
#include "core/unit/ready.h"

namespace ferrule::board {
namespace {

class Fitting {
 public:
  Fitting(const v1::OrderState& order, const depot::SettingsBook& book, int64_t at_us)
      : order_(order), book_(book), rules_(book.At(at_us)), at_us_(at_us) {}

  void Add(const v1::SubjectState& state, const std::string& branch,
           v1::AssessFitResponse* response) const {
    const v1::UnitState& unit = state.unit();
    v1::FitRow row;
    row.set_unit(unit.unit());
    row.set_model(unit.model());
    row.set_branch(branch);
    row.set_run_s(unit::TrueRunSeconds(unit.meter()));
    if (const v1::Model* model = rules_.FindModel(unit.model())) {
      for (v1::Finding& f : order::Unfit(order_.details(), unit.unit(), *model, rules_)) {
        *row.add_unfit() = std::move(f);
      }
      row.set_side_to_be_changed(OtherSide(*model, unit.side()));
    }
    AddNotReady(state, row.side_to_be_changed(), &row);
    AddPromise(unit, branch, &row);
    *(row.unfit().empty() ? response->add_fits() : response->add_others()) = std::move(row);
  }

  void Sort(v1::AssessFitResponse* response) const {
    std::sort(response->mutable_fits()->begin(), response->mutable_fits()->end(),
              [this](const v1::FitRow& a, const v1::FitRow& b) { return Key(a) < Key(b); });
    std::sort(response->mutable_others()->begin(), response->mutable_others()->end(),
              [](const v1::FitRow& a, const v1::FitRow& b) { return a.unit() < b.unit(); });
  }

 private:
  bool OtherSide(const v1::Model& model, v1::Side side) const {
    const v1::Side wanted = order_.details().side();
    const bool stated = wanted == v1::SIDE_LEFT || wanted == v1::SIDE_RIGHT;
    return model.sided() && stated && side != wanted && side != v1::SIDE_EITHER;
  }

  void AddNotReady(const v1::SubjectState& state, bool other_side, v1::FitRow* row) const {
    unit::ReadyQuery query;
    query.at_us = at_us_;
    query.order = order_.order();
    if (other_side) query.side = order_.details().side();
    for (v1::Finding& f : unit::Assess(state, book_, query)) *row->add_not_ready() = std::move(f);
  }

  void AddPromise(const v1::UnitState& unit, const std::string& branch, v1::FitRow* row) const {
    for (const v1::StandingPromise& promise : unit.promises()) {
      if (promise.order() == order_.order() ||
          fact::PromiseLapsed(promise, at_us_, rules_.ZoneOf(branch))) {
        continue;
      }
      *row->mutable_promised() = promise;
      return;
    }
  }

  std::tuple<bool, bool, bool, int64_t, std::string> Key(const v1::FitRow& row) const {
    const std::string& asked = order_.details().model();
    const bool stands_in = !asked.empty() && row.model() != asked;
    return {!row.not_ready().empty(), stands_in, row.has_promised(), row.run_s(), row.unit()};
  }

  const v1::OrderState& order_;
  const depot::SettingsBook& book_;
  const depot::Rules& rules_;
  const int64_t at_us_;
};

}  // namespace

absl::StatusOr<v1::AssessFitResponse> AssessFit(ledger::Ledger& ledger, PromiseDesk& desk,
                                                const v1::AssessFitRequest& request,
                                                int64_t now_us) {
  const int64_t at_us = request.has_at_time() ? time::ToMicros(request.at_time()) : now_us;
  absl::StatusOr<ledger::StatePtr> state = ledger.Get(request.name());
  if (!state.ok()) return state.status();
  if (!(*state)->has_order()) {
    return absl::InvalidArgumentError(
        absl::StrCat(request.name(), " is no order; give a name like orders/R-2001"));
  }
  const v1::OrderState& order = (*state)->order();
  const std::string& device_class = order.details().device_class();
  if (device_class.empty()) {
    return absl::FailedPreconditionError(absl::StrCat(
        "order ", order.order(), " says no class of device; record it first, with change-order"));
  }
  const std::shared_ptr<const depot::SettingsBook> book = ledger.Book();
  const depot::Rules& rules = book->At(at_us);
  const std::string& wanted =
      request.branch().empty() ? order.details().branch() : request.branch();
  if (!request.all_branches()) {
    if (wanted.empty()) {
      return absl::FailedPreconditionError(absl::StrCat(
          "order ", order.order(), " says no branch; name one, or ask for all branches"));
    }
    if (absl::Status known = depot::KnowBranch(rules, wanted); !known.ok()) return known;
  }
  v1::AssessFitResponse response;
  response.set_name(request.name());
  const Fitting fitting(order, *book, at_us);
  for (const v1::Branch& branch : rules.settings().branches()) {
    if (!request.all_branches() && branch.id() != wanted) continue;
    const absl::StatusOr<PoolMembers> members =
        desk.index.Members(ledger, branch.id(), device_class);
    if (!members.ok()) return members.status();
    for (const std::string& name : members->units) {
      absl::StatusOr<ledger::StatePtr> unit = ledger.Get(name);
      if (!unit.ok()) return unit.status();
      fitting.Add(**unit, branch.id(), &response);
    }
  }
  fitting.Sort(&response);
  for (std::string& words : order::NotJudged(order.details(), rules)) {
    response.add_not_judged(std::move(words));
  }
  for (v1::Finding& finding : order::QuestionableMeasures(order.details().measures(), rules)) {
    finding.set_subject(request.name());
    *response.add_questions() = std::move(finding);
  }
  return response;
}

}  // namespace ferrule::board
