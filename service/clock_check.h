// A machine that starts with a wrong clock must not record: known time never falls, so that one
// entry of the year 2099 would give that time to all that follow it.
#pragma once

#include <cstdint>

#include "absl/status/status.h"
#include "absl/time/time.h"

namespace ferrule::service {

// How far the clock may be behind the last entry, and ahead of it, when a server starts. A depot
// may rest, so that only years say something about a clock that is ahead.
inline constexpr absl::Duration kClockBehind = absl::Hours(24);
inline constexpr absl::Duration kClockAhead = absl::Hours(24 * 365 * 3);

// Whether a server may record at `now_us` behind an entry known at `last_us`, both microseconds
// since 1970. FailedPrecondition otherwise, with both times and what to do next.
absl::Status CheckClock(int64_t now_us, int64_t last_us);

}  // namespace ferrule::service
