// Complaints: received, answered, closed. The first answer stops the clock.
#include "core/stock/fold.h"

namespace ferrule::stock {
namespace {

class ComplaintFold {
 public:
  ComplaintFold(const fact::FactView& view, const depot::Rules& rules, finding::Raiser* raiser,
                v1::ComplaintState* complaint)
      : view_(view), rules_(rules), raiser_(raiser), complaint_(complaint) {}

  void On(const v1::ComplaintReceived& f) {
    if (complaint_->has_received()) {
      return Raise(v1::REASON_COMPLAINT_NUMBER_IN_USE, {{"item", f.complaint()}},
                   {&complaint_->received()});
    }
    if (rules_.FindBranch(f.branch()) == nullptr) {
      Raise(v1::REASON_BRANCH_UNKNOWN, {{"branch", f.branch()}});
    }
    finding::SetStamp(view_, complaint_->mutable_received());
    complaint_->set_kind(f.kind());
    complaint_->set_subject(f.subject());
    complaint_->set_branch(f.branch());
    complaint_->set_source(f.source());
    complaint_->set_harm(f.harm());
    complaint_->set_words(f.words());
  }

  // Somebody may be told more after the end.
  void On(const v1::ComplaintAnswered& f) {
    if (!IsKnown()) return;
    complaint_->set_answer_count(complaint_->answer_count() + 1);
    if (complaint_->has_answered()) return;
    finding::SetStamp(view_, complaint_->mutable_answered());
    complaint_->set_answered_how(f.how());
  }

  void On(const v1::ComplaintClosed& f) {
    if (!IsKnown()) return;
    if (complaint_->has_closed()) {
      return Raise(v1::REASON_COMPLAINT_CLOSED, {{"item", f.complaint()}}, {&complaint_->closed()});
    }
    if (!complaint_->has_answered() && f.outcome() != v1::COMPLAINT_OUTCOME_WITHDRAWN) {
      Raise(v1::REASON_COMPLAINT_NOT_ANSWERED, {{"item", f.complaint()}});
    }
    finding::SetStamp(view_, complaint_->mutable_closed());
    complaint_->set_outcome(f.outcome());
    complaint_->set_done(f.done());
    complaint_->set_investigator(f.investigator());
  }

 private:
  bool IsKnown() {
    if (complaint_->has_received()) return true;
    Raise(v1::REASON_COMPLAINT_UNKNOWN, {{"item", complaint_->complaint()}});
    return false;
  }
  void Raise(v1::Reason reason, finding::Values values = {}, finding::Evidence evidence = {}) {
    raiser_->Raise(reason, values, evidence);
  }

  const fact::FactView& view_;
  const depot::Rules& rules_;
  finding::Raiser* raiser_;
  v1::ComplaintState* complaint_;
};

}  // namespace

void ApplyToComplaint(const fact::FactView& view, const depot::SettingsBook& book,
                      finding::Raiser* raiser, v1::ComplaintState* complaint) {
  ComplaintFold fold(view, book.At(view.happened_us), raiser, complaint);
  const v1::Fact& fact = view.fact();
  if (fact.has_complaint_received()) return fold.On(fact.complaint_received());
  if (fact.has_complaint_answered()) return fold.On(fact.complaint_answered());
  if (fact.has_complaint_closed()) fold.On(fact.complaint_closed());
}

}  // namespace ferrule::stock
