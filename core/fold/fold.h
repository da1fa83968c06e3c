// Any subject's facts folded into its state: the one entrance to the rooms.
#pragma once

#include <string_view>
#include <vector>

#include "core/depot/settings_book.h"
#include "core/fact/fact_view.h"
#include "ferrule/v1/states.pb.h"

namespace ferrule::fold {

// A subject of which nothing is known yet.
v1::SubjectState Empty(std::string_view subject_name);

// Whether the fact may be applied to the state as it stands: it comes after every fact applied so
// far, and it is no reversal. Otherwise the subject is folded again from its facts.
bool InOrder(const fact::FactView& view, const v1::SubjectState& state);

// Applies one fact. Precondition: InOrder. What it breaks is appended to `questions` and
// `overrides`; returns how many questions it raised.
int Apply(const fact::FactView& view, const depot::SettingsBook& book, v1::SubjectState* state);

// Folds all facts of a subject, given in any order, each once; reversed facts and their reversals
// have no effect.
v1::SubjectState Fold(std::string_view subject_name, std::vector<fact::FactView> facts,
                      const depot::SettingsBook& book);

// The settings fold does not depend on the settings, so it can be done first.
depot::SettingsBook BookOf(const v1::SubjectState& settings_state);

}  // namespace ferrule::fold
