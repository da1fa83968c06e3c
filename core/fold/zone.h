// Whose local time people read when they read about a subject.
#pragma once

#include "absl/time/time.h"
#include "core/depot/settings_book.h"
#include "ferrule/v1/states.pb.h"

namespace ferrule::fold {

// The zone of the branch where a unit stands or which serves an order; otherwise the first
// branch's, and UTC when there is none. `state` may be null.
absl::TimeZone ZoneOf(const v1::SubjectState* state, const depot::Rules& rules);

}  // namespace ferrule::fold
