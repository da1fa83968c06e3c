// A unit's facts told again, one after the other, with the unit before and after each: what an
// answer about its past is made from. The rules are those of the folds.
#pragma once

#include <cstdint>
#include <string_view>
#include <vector>

#include "absl/functional/function_ref.h"
#include "absl/time/time.h"
#include "core/depot/settings_book.h"
#include "core/fact/fact_view.h"
#include "ferrule/v1/states.pb.h"

namespace ferrule::bench {

struct Moment {
  const fact::FactView& view;
  const v1::UnitState& before;
  const v1::UnitState& after;
  const v1::Stamp& stamp;  // of the fact
};

// Facts in any order; reversed ones, reversals and answers are not visited.
void Replay(std::string_view name, std::vector<fact::FactView> facts,
            const depot::SettingsBook& book, absl::FunctionRef<void(const Moment&)> visit);

// The zone of the branch where the unit stands (or last stood), by the settings of that instant;
// UTC when they do not say. Days between two instants are counted in it, never as 24 hours each.
absl::TimeZone ZoneOf(const v1::UnitState& unit, const depot::SettingsBook& book, int64_t at_us);

// Whether a stamp is that of this very fact.
bool Same(const v1::Stamp& a, const v1::Stamp& b);

}  // namespace ferrule::bench
