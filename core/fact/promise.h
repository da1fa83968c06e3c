// Promises of days to come: which days, and how long they bind. The unit's fold, the order's fold
// and every answer ask here.
#pragma once

#include <cstdint>
#include <string>

#include "absl/time/civil_time.h"
#include "absl/time/time.h"
#include "core/fact/fact_view.h"
#include "ferrule/v1/promise.pb.h"

namespace ferrule::fact {

// The promise that a UnitPromised fact makes, with its stamp. Precondition: the view's fact is one.
v1::StandingPromise PromiseOf(const FactView& view);

// Whether the promise no longer binds at that instant: its time is up (it binds up to its time, not
// at it), or its last day is over in `zone`.
bool PromiseLapsed(const v1::StandingPromise& promise, int64_t at_us, absl::TimeZone zone);

// Whether two promises have a day in common; both ends are included.
bool ShareDays(const v1::StandingPromise& a, const v1::StandingPromise& b);

// The first and the last day in words: "2026-03-07"; empty for a day that is none.
std::string FirstDayWords(const v1::StandingPromise& promise);
std::string LastDayWords(const v1::StandingPromise& promise);

}  // namespace ferrule::fact
