// The branches of a depot tell about each other when in the year surgery is done, and how far
// demand wanders about that: one alone has a few orders a week, of which neither can be told from
// chance.
#pragma once

#include <vector>

#include "core/plan/occupancy.h"
#include "core/plan/order_rate.h"

namespace ferrule::plan {

// For each branch what it is told, in the same order; what their own `others` say is not read.
// Surgeries are those since some day of the branches that were open on it, as one that opens later
// would tell of growth: the day from which there are most. Classes with too few orders to speak for
// themselves do not say how demand wanders.
std::vector<OtherBranches> TellOthers(const std::vector<const OccupancyInput*>& branches);

}  // namespace ferrule::plan
