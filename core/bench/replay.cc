#include "core/bench/replay.h"

#include <algorithm>

#include "core/finding/raise.h"
#include "core/fold/fold.h"
#include "core/fold/reversals.h"

namespace ferrule::bench {

absl::TimeZone ZoneOf(const v1::UnitState& unit, const depot::SettingsBook& book, int64_t at_us) {
  const depot::Rules& rules = book.At(at_us);
  const v1::Branch* branch = rules.BranchOfPlace(unit.place());
  return branch == nullptr ? absl::UTCTimeZone() : rules.ZoneOf(branch->id());
}

bool Same(const v1::Stamp& a, const v1::Stamp& b) {
  return a.has_fact() && b.has_fact() && a.fact().index() == b.fact().index() &&
         a.fact().entry_id() == b.fact().entry_id();
}

void Replay(std::string_view name, std::vector<fact::FactView> facts,
            const depot::SettingsBook& book, absl::FunctionRef<void(const Moment&)> visit) {
  std::sort(facts.begin(), facts.end(), fact::Before);
  const fold::Reversals reversals(facts);
  v1::SubjectState state = fold::Empty(name);
  v1::UnitState before;
  for (size_t i = 0; i < facts.size(); ++i) {
    const fact::FactView& view = facts[i];
    const bool about_records = view.fact().has_reversal() || view.fact().has_question_answered();
    if (reversals.IsReversed(i) || about_records) continue;
    before = state.unit();
    fold::Apply(view, book, &state);
    state.clear_questions();  // what was asked is not asked again here
    state.clear_overrides();
    v1::Stamp stamp;
    finding::SetStamp(view, &stamp);
    visit({view, before, state.unit(), stamp});
  }
}

}  // namespace ferrule::bench
