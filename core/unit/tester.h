// What is known of a test instrument: its calibrations, and the times for which it is not to be
// trusted.
#pragma once

#include <cstdint>

#include "absl/time/civil_time.h"
#include "core/fact/fact_view.h"
#include "ferrule/v1/states.pb.h"

namespace ferrule::unit {

// Applies one fact to the tester `state->tester()`.
void ApplyToTester(const fact::FactView& view, v1::SubjectState* state);

// How far a tester was to be trusted at an instant.
enum class Trust {
  kCalibrated,     // within a recorded calibration and no doubt
  kDoubted,        // within a time of doubt
  kOutOfDate,      // its last calibration before had run out
  kNotCalibrated,  // no calibration is recorded before
};

// At the instant, which falls on `day` where the tester was used. A calibration holds through its
// last day; a time of doubt is half-open, [from, to).
Trust TrustIn(const v1::TesterState& tester, int64_t at_us, absl::CivilDay day);

}  // namespace ferrule::unit
