// The limits of motion of one day, from the order's motion and its progression.
#pragma once

#include <optional>

#include "absl/time/civil_time.h"
#include "ferrule/v1/states.pb.h"

namespace ferrule::order {

// What the order gives for one day. A field that no order gives is absent: nothing is filled in.
struct DayLimits {
  v1::Motion motion;
  std::optional<absl::CivilDay> anchor;  // day 0; none without a progression or while it is unknown
  std::optional<int64_t> day_number;     // the day asked about, counted from day 0
  bool capped = false;                   // the progression has come to its end
};

// Day 0 of the order's progression: the day of the operation, of discharge, of the hand-over, or
// the day that the order names. None without a progression, or while that day is not known.
std::optional<absl::CivilDay> AnchorDay(const v1::OrderState& order);

// The limits on `day`, local to the order's branch. Before the first step the limits at the start
// hold (also before day 0, and as long as day 0 is not known: the safe side); then each day adds
// its step; days with limits of their own hold from their day on. Limits of the order's motion are
// never passed.
DayLimits LimitsOn(const v1::OrderState& order, absl::CivilDay day);

// The greatest step of a limit from one day to the next, degrees; 0 without a progression.
double GreatestStep(const v1::OrderDetails& details);

}  // namespace ferrule::order
