// Use of the device in the home, from reading to reading, against what is prescribed.
#pragma once

#include "core/depot/settings_book.h"
#include "ferrule/v1/promise_service.pb.h"
#include "ferrule/v1/states.pb.h"

namespace ferrule::order {

// Intervals between meter readings of one unit, and stretches told or read out of the device's
// memory. An interval that cannot be is set aside with the doubt in words: a meter that fell (a
// swap or a slip), more hours than have passed, two readings on one day that differ, or words
// about days that readings of the meter cover already. Days are those of the branch; days of two
// readings count the first and not the last, so that intervals add up. Prescribed is the use a day
// of the order's motion, or of its progression where that gives one for the last day.
v1::GetUsageResponse UsageOf(const v1::OrderState& order, const depot::Rules& rules);

}  // namespace ferrule::order
