// A branch whose truth is known: bookings of two classes with all that makes them hard to foretell
// (a level that wanders, seasons, holidays, cancelled and moved dates, second sides, late returns,
// repairs), and the units in use on every day. Its constants are drawn too, so that no two branches
// are alike. Synthetic; the ranges are our own.
#pragma once

#include <cstdint>
#include <vector>

#include "core/plan/occupancy.h"

namespace ferrule::plan {

struct BranchTruth {
  OccupancyInput input;                  // all bookings, whenever known
  std::vector<std::vector<int>> in_use;  // by class and day, from day 0
};

// Days 0 to days - 1; day 0 is a Thursday.
BranchTruth DrawBranch(uint64_t seed, int days);

}  // namespace ferrule::plan
