#include "core/fold/fold.h"

#include <algorithm>
#include <string>
#include <utility>

#include "core/depot/settings_text.h"
#include "core/fact/subject.h"
#include "core/finding/raise.h"
#include "core/fold/reversals.h"
#include "core/order/fold.h"
#include "core/stock/fold.h"
#include "core/time/civil.h"
#include "core/unit/fold.h"
#include "core/unit/tester.h"

namespace ferrule::fold {
namespace {

// How far a reporter's clock may be ahead of the ledger's.
constexpr int64_t kClockToleranceUs = 5 * int64_t{60'000'000};

bool Names(const v1::FactRef& ref, const fact::FactView& view) {
  return ref.index() == view.index && ref.entry_id() == view.entry->entry_id();
}

int FindQuestion(const v1::QuestionAnswered& answer, const v1::SubjectState& state) {
  for (int i = 0; i < state.questions_size(); ++i) {
    const v1::Finding& q = state.questions(i);
    if (q.reason() == answer.rule() && q.fact().index() == answer.fact().index() &&
        q.fact().entry_id() == answer.fact().entry_id()) {
      return i;
    }
  }
  return -1;
}

// All questions of that rule that the fact raised: a check that names several items is one question
// to whoever answers it.
void Answer(const v1::QuestionAnswered& answer, v1::SubjectState* state) {
  for (int i = FindQuestion(answer, *state); i >= 0; i = FindQuestion(answer, *state)) {
    state->mutable_questions()->DeleteSubrange(i, 1);
  }
}

// A settings version that does not pass validation as a whole is never in force.
bool IsValid(const v1::SettingsPut& f, finding::Raiser* raiser) {
  const std::vector<depot::SettingsError> errors = depot::ValidateSettings(f.settings());
  if (errors.empty()) return true;
  raiser->Raise(v1::REASON_SETTINGS_INVALID, {{"version", f.settings().version()},
                                              {"item", errors.front().field},
                                              {"found", errors.front().message}});
  return false;
}

// In the order of the from-times; of two put for the same instant the later one replaces the other.
void ApplyToSettings(const fact::FactView& view, finding::Raiser* raiser,
                     v1::SettingsState* settings) {
  if (!view.fact().has_settings_put()) return;
  const v1::SettingsPut& f = view.fact().settings_put();
  if (!IsValid(f, raiser)) return;
  auto* versions = settings->mutable_versions();
  const int64_t from_us = time::ToMicros(f.from_time());
  const auto at = std::lower_bound(
      versions->begin(), versions->end(), from_us,
      [](const v1::SettingsVersion& v, int64_t us) { return time::ToMicros(v.from_time()) < us; });
  const auto position = at - versions->begin();
  const bool replaces = at != versions->end() && time::ToMicros(at->from_time()) == from_us;
  if (!replaces) {
    versions->Add();
    std::rotate(versions->begin() + position, versions->end() - 1, versions->end());
  }
  v1::SettingsVersion& version = *(versions->begin() + position);
  *version.mutable_from_time() = f.from_time();
  *version.mutable_settings() = f.settings();
  finding::SetStamp(view, version.mutable_put());
}

void ApplyToForecasts(const fact::FactView& view, v1::ForecastsState* forecasts) {
  if (!view.fact().has_forecast_noted()) return;
  const v1::ForecastNoted& f = view.fact().forecast_noted();
  forecasts->set_noted_count(forecasts->noted_count() + 1);
  // What is no day of the calendar was refused at the door.
  if (forecasts->has_last_as_of_date() &&
      time::ToDay(f.as_of_date()) < time::ToDay(forecasts->last_as_of_date())) {
    return;
  }
  *forecasts->mutable_last_as_of_date() = f.as_of_date();
  finding::SetStamp(view, forecasts->mutable_noted());
}

void ApplyToSubject(const fact::FactView& view, const depot::SettingsBook& book,
                    finding::Raiser* raiser, v1::SubjectState* state) {
  switch (state->state_case()) {
    case v1::SubjectState::kUnit:
      return unit::Apply(view, book, raiser, state);
    case v1::SubjectState::kOrder:
      return order::Apply(view, book, raiser, state);
    case v1::SubjectState::kPart:
      return stock::ApplyToPart(view, raiser, state);
    case v1::SubjectState::kLot:
      return stock::ApplyToLot(view, book, raiser, state);
    case v1::SubjectState::kItem:
      return stock::ApplyToItem(view, book, raiser, state);
    case v1::SubjectState::kTransfer:
      return stock::ApplyToTransfer(view, raiser, state->mutable_transfer());
    case v1::SubjectState::kCount:
      return stock::ApplyToCount(view, book, raiser, state->mutable_count());
    case v1::SubjectState::kRecall:
      return stock::ApplyToRecall(view, raiser, state->mutable_recall());
    case v1::SubjectState::kComplaint:
      return stock::ApplyToComplaint(view, book, raiser, state->mutable_complaint());
    case v1::SubjectState::kPlace:
      return stock::ApplyToPlace(view, book, raiser, state->mutable_place());
    case v1::SubjectState::kSettings:
      return ApplyToSettings(view, raiser, state->mutable_settings());
    case v1::SubjectState::kForecasts:
      return ApplyToForecasts(view, state->mutable_forecasts());
    case v1::SubjectState::kTester:
      return unit::ApplyToTester(view, state);
    case v1::SubjectState::STATE_NOT_SET:
      return;
  }
}

void SetLast(const fact::FactView& view, v1::SubjectState* state) {
  v1::FactPosition* last = state->mutable_last();
  time::SetMicros(view.happened_us, last->mutable_happened_time());
  last->set_order_number(view.entry->order_number());
  last->mutable_fact()->set_entry_id(view.entry->entry_id());
  last->mutable_fact()->set_index(view.index);
}

// Whether the fact comes after the last one; the same order as fact::Before.
bool After(const fact::FactView& view, const v1::FactPosition& last) {
  const int64_t last_us = time::ToMicros(last.happened_time());
  if (view.happened_us != last_us) return view.happened_us > last_us;
  const int64_t number = view.entry->order_number();
  if (number != last.order_number()) return number > last.order_number();
  const int ids = view.entry->entry_id().compare(last.fact().entry_id());
  return ids != 0 ? ids > 0 : view.index > last.fact().index();
}

void RaiseIfInFuture(const fact::FactView& view, finding::Raiser* raiser) {
  if (view.recorded_us == 0 || view.happened_us <= view.recorded_us + kClockToleranceUs) return;
  raiser->Raise(v1::REASON_TIME_IN_FUTURE, {{"limit", time::FormatUtc(view.recorded_us)},
                                            {"found", time::FormatUtc(view.happened_us)}});
}

}  // namespace

v1::SubjectState Empty(std::string_view subject_name) {
  v1::SubjectState state;
  state.set_name(std::string(subject_name));
  const absl::StatusOr<fact::Subject> subject = fact::ParseSubjectName(subject_name);
  if (!subject.ok()) return state;
  const std::string id(subject->id);
  switch (subject->kind) {
    case fact::SubjectKind::kUnit:
      state.mutable_unit()->set_unit(id);
      break;
    case fact::SubjectKind::kPart:
      state.mutable_part()->set_part(id);
      break;
    case fact::SubjectKind::kLot:
      state.mutable_lot()->set_lot(id);
      break;
    case fact::SubjectKind::kOrder:
      state.mutable_order()->set_order(id);
      break;
    case fact::SubjectKind::kSettings:
      state.mutable_settings();
      break;
    case fact::SubjectKind::kForecasts:
      state.mutable_forecasts()->set_branch(id);
      break;
    case fact::SubjectKind::kTester:
      state.mutable_tester()->set_tester(id);
      break;
    case fact::SubjectKind::kItem:
      state.mutable_item()->set_item(id);
      break;
    case fact::SubjectKind::kTransfer:
      state.mutable_transfer()->set_transfer(id);
      break;
    case fact::SubjectKind::kCount:
      state.mutable_count()->set_count(id);
      break;
    case fact::SubjectKind::kRecall:
      state.mutable_recall()->set_recall(id);
      break;
    case fact::SubjectKind::kPlace:
      state.mutable_place()->set_place(id);
      break;
    case fact::SubjectKind::kComplaint:
      state.mutable_complaint()->set_complaint(id);
      break;
  }
  return state;
}

bool InOrder(const fact::FactView& view, const v1::SubjectState& state) {
  if (state.has_last() && !After(view, state.last())) return false;
  for (const v1::FactRef& awaited : state.awaited()) {
    if (Names(awaited, view)) return false;
  }
  const v1::Fact& fact = view.fact();
  if (fact.has_reversal()) return false;
  return !fact.has_question_answered() || IsOpen(fact.question_answered(), state);
}

int Apply(const fact::FactView& view, const depot::SettingsBook& book, v1::SubjectState* state) {
  finding::Raiser raiser(view, state);
  RaiseIfInFuture(view, &raiser);
  if (view.fact().has_question_answered()) {
    Answer(view.fact().question_answered(), state);
  } else {
    ApplyToSubject(view, book, &raiser, state);
    stock::KeepRecallWord(view, state);
  }
  state->set_fact_count(state->fact_count() + 1);
  SetLast(view, state);
  return raiser.count();
}

v1::SubjectState Fold(std::string_view subject_name, std::vector<fact::FactView> facts,
                      const depot::SettingsBook& book) {
  v1::SubjectState state;
  Fold(subject_name, std::move(facts), book, &state);
  return state;
}

void Fold(std::string_view subject_name, std::vector<fact::FactView> facts,
          const depot::SettingsBook& book, v1::SubjectState* state, SpanChanges* spans) {
  *state = Empty(subject_name);
  std::vector<Span> open;
  if (spans != nullptr) *spans = {.all = true, .ended = {}, .begun = {}};
  if (!std::is_sorted(facts.begin(), facts.end(), fact::Before)) {
    std::sort(facts.begin(), facts.end(), fact::Before);
  }
  const auto same = [](const fact::FactView& a, const fact::FactView& b) {
    return a.index == b.index && a.entry->entry_id() == b.entry->entry_id();
  };
  facts.erase(std::unique(facts.begin(), facts.end(), same), facts.end());

  const Reversals reversals(facts);
  for (size_t i = 0; i < facts.size(); ++i) {
    const fact::FactView& view = facts[i];
    if (reversals.IsReversed(i)) {
      SetLast(view, state);
      continue;
    }
    if (view.fact().has_reversal()) {
      finding::Raiser raiser(view, state);
      RaiseIfInFuture(view, &raiser);
      reversals.Judge(i, &raiser, state);
      SetLast(view, state);
    } else {
      Apply(view, book, state);
      if (spans != nullptr) NoteSpans(view, *state, &open, spans);
    }
    if (view.fact().has_question_answered()) {
      finding::Raiser raiser(view, state);
      reversals.JudgeAnswer(i, &raiser, state);
    }
    for (const v1::QuestionAnswered* answer : reversals.EarlierAnswersTo(i)) {
      Answer(*answer, state);
    }
  }
}

bool IsOpen(const v1::QuestionAnswered& answer, const v1::SubjectState& state) {
  return FindQuestion(answer, state) >= 0;
}

depot::SettingsBook BookOf(const v1::SubjectState& settings_state) {
  return depot::SettingsBook(settings_state.settings());
}

}  // namespace ferrule::fold
