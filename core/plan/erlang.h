// The loss formula: orders that find no unit go elsewhere. Offered load is orders per day times
// mean days in use, in units; the answer does not depend on the shape of the length in use.
#pragma once

#include <cstdint>

namespace ferrule::plan {

// Share of orders lost with `units` units. load >= 0, units >= 0; no units lose everything, no
// load loses nothing. Underflows to 0 only below 1e-300: see the logarithm.
double LossProbability(double load, int64_t units);
double LogLossProbability(double load, int64_t units);
// The same formula between whole numbers of units, smooth in `units` >= 0; below 0 all is lost.
// Within 2 %, equal at whole numbers.
double LossBetween(double load, double units);

// Smallest number of units that loses at most `share` of the orders; 0 < share < 1.
int64_t SmallestFleet(double load, double share);
// Largest load that `units` units carry while losing at most `share`.
double LargestLoad(int64_t units, double share);

}  // namespace ferrule::plan
