// An order's motion on one day: limits, sessions, what is set beyond them, and what to ask the
// prescriber about. It compares and warns; it never gives a figure that no order gives.
#pragma once

#include <string>
#include <vector>

#include "absl/time/civil_time.h"
#include "core/depot/settings_book.h"
#include "ferrule/v1/promise_service.pb.h"
#include "ferrule/v1/states.pb.h"

namespace ferrule::order {

// The plan of `day`, local to the order's branch. `rules` are those in force; the settings on the
// device are judged against that day's limits, the order and the model on rent. Findings carry no
// words yet.
v1::GetMotionPlanResponse MotionPlan(const v1::OrderState& order, absl::CivilDay day,
                                     const depot::Rules& rules);

// What in the order lies outside the band that the settings give for its class, in words: to be
// asked, not to be changed. Nothing without a band.
std::vector<std::string> MotionWarnings(const v1::OrderDetails& details, const depot::Rules& rules);

// Settings that are beyond what the progression gives for `day`, and not beyond the order itself:
// SETTING_AHEAD_OF_PROGRESSION, no words yet. Nothing without a progression.
std::vector<v1::Finding> AheadOfProgression(const v1::OrderState& order, const v1::Motion& set,
                                            absl::CivilDay day);

}  // namespace ferrule::order
