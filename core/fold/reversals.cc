#include "core/fold/reversals.h"

#include <algorithm>
#include <string>
#include <utility>

#include "absl/container/flat_hash_map.h"
#include "absl/strings/str_join.h"
#include "absl/strings/string_view.h"
#include "core/fact/subject.h"

namespace ferrule::fold {
namespace {

bool IsReversalOrAnswer(const fact::FactView& view) {
  return view.fact().has_reversal() || view.fact().has_question_answered();
}

const v1::FactRef& Named(const fact::FactView& view) {
  return view.fact().has_reversal() ? view.fact().reversal().fact()
                                    : view.fact().question_answered().fact();
}

bool Same(const v1::FactRef& a, const v1::FactRef& b) {
  return a.index() == b.index() && a.entry_id() == b.entry_id();
}

// Awaited facts are kept each once, in a stable order.
void Await(const v1::FactRef& ref, v1::SubjectState* state) {
  for (const v1::FactRef& known : state->awaited()) {
    if (Same(known, ref)) return;
  }
  *state->add_awaited() = ref;
}

bool SameSubjects(const v1::Reversal& reversal, const v1::Fact& target) {
  std::vector<std::string> named(reversal.subjects().begin(), reversal.subjects().end());
  std::vector<std::string> real = fact::SubjectsOf(target);
  std::sort(named.begin(), named.end());
  named.erase(std::unique(named.begin(), named.end()), named.end());
  std::sort(real.begin(), real.end());
  return named == real;
}

std::string RefText(const v1::FactRef& ref) {
  return ref.entry_id() + "#" + std::to_string(ref.index());
}

}  // namespace

Reversals::Reversals(const std::vector<fact::FactView>& facts) : facts_(facts) {
  any_ = std::any_of(facts.begin(), facts.end(), IsReversalOrAnswer);
  if (!any_) return;
  absl::flat_hash_map<std::pair<absl::string_view, int>, size_t> places;
  for (size_t i = 0; i < facts.size(); ++i) {
    places.try_emplace({facts[i].entry->entry_id(), facts[i].index}, i);
  }
  first_.assign(facts.size(), kNowhere);
  reversal_of_.assign(facts.size(), kNowhere);
  target_.assign(facts.size(), kNowhere);
  for (size_t i = 0; i < facts.size(); ++i) {
    if (!IsReversalOrAnswer(facts[i])) continue;
    const v1::FactRef& ref = Named(facts[i]);
    const auto it = places.find({ref.entry_id(), ref.index()});
    if (it == places.end()) continue;
    target_[i] = it->second;
    if (!facts[i].fact().has_reversal() || facts[it->second].fact().has_reversal()) continue;
    if (reversal_of_[it->second] == kNowhere) {
      reversal_of_[it->second] = i;
    } else {
      first_[i] = reversal_of_[it->second];
    }
  }
  for (size_t i = 0; i < facts.size(); ++i) {
    if (facts[i].fact().has_question_answered() && !IsReversed(i)) answers_.push_back(i);
  }
}

void Reversals::Judge(size_t i, finding::Raiser* raiser, v1::SubjectState* state) const {
  const v1::Reversal& reversal = facts_[i].fact().reversal();
  const std::string ref = RefText(reversal.fact());
  if (target_[i] == kNowhere) {
    raiser->Raise(v1::REASON_REVERSED_FACT_UNKNOWN, {{"item", ref}});
    return Await(reversal.fact(), state);
  }
  const fact::FactView& target = facts_[target_[i]];
  if (target.fact().has_reversal()) {
    return raiser->Raise(v1::REASON_REVERSAL_OF_REVERSAL, {{"item", ref}});
  }
  if (first_[i] != kNowhere) {
    v1::Stamp first;
    finding::SetStamp(facts_[first_[i]], &first);
    return raiser->Raise(v1::REASON_ALREADY_REVERSED, {{"item", ref}}, {&first});
  }
  if (!SameSubjects(reversal, target.fact())) {
    raiser->Raise(v1::REASON_REVERSAL_SUBJECTS_DIFFER,
                  {{"item", ref},
                   {"found", absl::StrJoin(reversal.subjects(), ", ")},
                   {"expected", absl::StrJoin(fact::SubjectsOf(target.fact()), ", ")}});
  }
}

void Reversals::JudgeAnswer(size_t i, finding::Raiser* raiser, v1::SubjectState* state) const {
  if (target_[i] != kNowhere) return;
  const v1::FactRef& ref = facts_[i].fact().question_answered().fact();
  raiser->Raise(v1::REASON_QUESTION_NOT_OPEN, {{"item", RefText(ref)}});
  Await(ref, state);
}

std::vector<const v1::QuestionAnswered*> Reversals::EarlierAnswersTo(size_t i) const {
  std::vector<const v1::QuestionAnswered*> found;
  for (size_t answer : answers_) {
    if (answer >= i) break;
    if (target_[answer] == i) found.push_back(&facts_[answer].fact().question_answered());
  }
  return found;
}

}  // namespace ferrule::fold
