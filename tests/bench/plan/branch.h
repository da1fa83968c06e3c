// A branch of the outside simulator, as its folder has it: cases.csv, protocol.csv, truth_busy.csv.
#pragma once

#include <string>
#include <vector>

#include "core/plan/occupancy.h"
#include "tests/bench/plan/csv.h"

namespace ferrule::bench {

struct BranchFolder {
  plan::OccupancyInput input;      // all bookings, whenever known; horizon and holidays set
  std::vector<std::string> names;  // of the classes
  std::vector<int> origins;        // in days of the folder, day 1 is Monday 2021-01-04
  Table truth;                     // without rows when the folder does not have it

  // Units in use at the end of `day`; negative when that is not known.
  int64_t InUse(int device_class, int day) const;
};

// Days since 1970-01-01 of a day of the folder; kNotYet where it is missing.
int64_t DayNumber(double day);
BranchFolder ReadBranch(const std::string& folder);

}  // namespace ferrule::bench
