// Recalls. What became of each item is kept with the item: a recall may cover thousands.
#include <algorithm>
#include <string>

#include "core/stock/fold.h"

namespace ferrule::stock {
namespace {

class RecallFold {
 public:
  RecallFold(const fact::FactView& view, finding::Raiser* raiser, v1::RecallState* recall)
      : view_(view), raiser_(raiser), recall_(recall) {}

  void On(const v1::RecallOpened& f) {
    if (recall_->has_opened()) {
      return Raise(v1::REASON_RECALL_NUMBER_IN_USE, {{"item", f.recall()}}, {&recall_->opened()});
    }
    finding::SetStamp(view_, recall_->mutable_opened());
    recall_->set_notice(f.notice());
    recall_->set_source(f.source());
    if (f.has_notice_date()) *recall_->mutable_notice_date() = f.notice_date();
    *recall_->mutable_scope() = f.scope();
    recall_->set_hazard(f.hazard());
    recall_->set_instruction(f.instruction());
    recall_->set_exercise(f.exercise());
  }

  void On(const v1::RecallOutcomeNoted&) {
    if (!IsKnown()) return;
    if (recall_->has_closed()) {
      Raise(v1::REASON_RECALL_CLOSED, {{"item", recall_->recall()}}, {&recall_->closed()});
    }
    recall_->set_outcome_count(recall_->outcome_count() + 1);
  }

  void On(const v1::RecallClosed& f) {
    if (!IsKnown()) return;
    if (recall_->has_closed()) {
      return Raise(v1::REASON_RECALL_CLOSED, {{"item", recall_->recall()}}, {&recall_->closed()});
    }
    if (f.open_item_count() > 0 && f.because().empty()) {
      Raise(v1::REASON_RECALL_ITEMS_OPEN,
            {{"item", recall_->recall()}, {"found", std::to_string(f.open_item_count())}});
    }
    finding::SetStamp(view_, recall_->mutable_closed());
    recall_->set_closed_open_item_count(f.open_item_count());
    recall_->set_closed_because(f.because());
  }

 private:
  bool IsKnown() {
    if (recall_->has_opened()) return true;
    Raise(v1::REASON_RECALL_UNKNOWN, {{"item", recall_->recall()}});
    return false;
  }
  void Raise(v1::Reason reason, finding::Values values = {}, finding::Evidence evidence = {}) {
    raiser_->Raise(reason, values, evidence);
  }

  const fact::FactView& view_;
  finding::Raiser* raiser_;
  v1::RecallState* recall_;
};

}  // namespace

void ApplyToRecall(const fact::FactView& view, finding::Raiser* raiser, v1::RecallState* recall) {
  RecallFold fold(view, raiser, recall);
  const v1::Fact& fact = view.fact();
  if (fact.has_recall_opened()) return fold.On(fact.recall_opened());
  if (fact.has_recall_outcome_noted()) return fold.On(fact.recall_outcome_noted());
  if (fact.has_recall_closed()) fold.On(fact.recall_closed());
}

void KeepRecallWord(const fact::FactView& view, v1::SubjectState* state) {
  if (!view.fact().has_recall_outcome_noted() || state->has_recall()) return;
  const v1::RecallOutcomeNoted& f = view.fact().recall_outcome_noted();
  auto* words = state->mutable_recall_words();
  auto it = std::find_if(words->begin(), words->end(),
                         [&](const v1::RecallWord& w) { return w.recall() == f.recall(); });
  if (it == words->end()) {
    words->Add()->set_recall(f.recall());
    std::sort(words->begin(), words->end(), [](const v1::RecallWord& a, const v1::RecallWord& b) {
      return a.recall() < b.recall();
    });
    it = std::find_if(words->begin(), words->end(),
                      [&](const v1::RecallWord& w) { return w.recall() == f.recall(); });
  }
  it->set_outcome(f.outcome());
  if (!f.contact().empty()) it->set_contact(f.contact());
  if (!f.evidence().empty()) it->set_evidence(f.evidence());
  const bool contacted = f.outcome() == v1::RECALL_OUTCOME_CONTACTED || !f.contact().empty();
  if (contacted && !it->has_contacted()) finding::SetStamp(view, it->mutable_contacted());
  finding::SetStamp(view, it->mutable_noted());
}

}  // namespace ferrule::stock
