// Any subject's facts folded into its state: the one entrance to the rooms.
#pragma once

#include <string_view>
#include <vector>

#include "core/depot/settings_book.h"
#include "core/fact/fact_view.h"
#include "core/fold/spans.h"
#include "ferrule/v1/states.pb.h"

namespace ferrule::fold {

// A subject of which nothing is known yet.
v1::SubjectState Empty(std::string_view subject_name);

// Whether the fact may be applied to the state as it stands: it comes after every fact applied so
// far, it is no reversal, no reversal or answer waits for it, and if it is an answer, its question
// is open. Otherwise the subject is folded again from its facts.
bool InOrder(const fact::FactView& view, const v1::SubjectState& state);

// Applies one fact. Precondition: InOrder. What it breaks is appended to `questions` and
// `overrides`; returns how many questions it raised.
int Apply(const fact::FactView& view, const depot::SettingsBook& book, v1::SubjectState* state);

// Folds all facts of a subject, given in any order, the same one perhaps more than once; reversed
// facts and their reversals have no effect. The result depends on the set of facts alone.
//
// Of two reversals of one fact the first in order is the one that counts. A reversal or an answer
// may come before what it names, in true time and in arrival. An answer to a question that the
// facts known by now no longer raise is spent and says nothing; only one that names a fact unknown
// to the subject is questioned. (Whether a question was open when it was answered depends on the
// order of arrival; see IsOpen.)
v1::SubjectState Fold(std::string_view subject_name, std::vector<fact::FactView> facts,
                      const depot::SettingsBook& book);
// The same into an empty state, for callers who choose where it lies. `spans`, when given, gets all
// of the subject's.
void Fold(std::string_view subject_name, std::vector<fact::FactView> facts,
          const depot::SettingsBook& book, v1::SubjectState* state, SpanChanges* spans = nullptr);

// Whether the state has the question that an answer names: what an enforced answer must be asked
// before it is folded, because a fold cannot know what was open when.
bool IsOpen(const v1::QuestionAnswered& answer, const v1::SubjectState& state);

// The settings fold does not depend on the settings, so it can be done first.
depot::SettingsBook BookOf(const v1::SubjectState& settings_state);

}  // namespace ferrule::fold
