// The turnarounds of a unit as its stays at homes and places tell them.
#pragma once

#include <cstdint>
#include <string>
#include <vector>

#include "core/depot/settings_book.h"
#include "core/promise/turn_law.h"

namespace ferrule::board {

// One row of the intervals: who had the unit, and from when until when. Half-open, microseconds;
// `to_us` is the greatest integer while it lasts.
struct CustodySpan {
  int64_t from_us = 0;
  int64_t to_us = INT64_MAX;
  std::string holder;  // "orders/R-1", "places/north-dock", "transfers/T-1", "nobody", "gone"
};

// Every time the unit left a patient: when it left, when it stood at a place that is no van, and
// when it was put at a clean place, which is taken for its readiness (units are put away when they
// have passed: common practice, no source). `spans` in the order of their beginnings. Days are
// local to the branch of the first place after the patient.
std::vector<promise::TurnSeen> TurnsOf(const std::vector<CustodySpan>& spans,
                                       const depot::Rules& rules);

}  // namespace ferrule::board
