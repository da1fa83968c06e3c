#include "core/fold/zone.h"

namespace ferrule::fold {

absl::TimeZone ZoneOf(const v1::SubjectState* state, const depot::Rules& rules) {
  if (state != nullptr && state->has_unit()) {
    const v1::Branch* branch = rules.BranchOfPlace(state->unit().place());
    if (branch != nullptr) return rules.ZoneOf(branch->id());
  }
  if (state != nullptr && state->has_order() && !state->order().details().branch().empty()) {
    return rules.ZoneOf(state->order().details().branch());
  }
  if (rules.settings().branches_size() == 0) return absl::UTCTimeZone();
  return rules.ZoneOf(rules.settings().branches(0).id());
}

}  // namespace ferrule::fold
