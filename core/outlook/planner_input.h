// What the planner needs of the records: every order as the booking that it was on each day, with
// the use that came of it; and the fleet.
#pragma once

#include <cstdint>
#include <map>
#include <string>
#include <vector>

#include "core/outlook/records.h"
#include "core/outlook/turns.h"
#include "core/plan/occupancy.h"

namespace ferrule::outlook {

// What stands behind a booking of the planner.
struct BookingSource {
  std::string order;
  std::string unit;  // when one is or was out
  std::string prescriber;
  FactKey fact;  // the latest one that shaped it
};

// One class of device at one branch.
struct Fleet {
  int units = 0;           // lent, accounted for
  int held = 0;            // of these, kept back by a hold
  int ready = 0;           // of these, ready and free now
  int64_t cost_minor = 0;  // what the units cost
  std::vector<std::string> ready_units;
};

// One branch.
struct BranchInput {
  std::string branch;
  std::vector<std::string> classes;    // number = position
  plan::OccupancyInput input;          // bookings, holidays, now: yesterday's end is today's begin
  std::vector<BookingSource> sources;  // beside input.bookings
  std::vector<Fleet> fleets;           // by class
  std::vector<int64_t> refused;        // by class: refused or left waiting in the last 365 days
};

// Every branch of the settings and every one that an order names, in the order of their ids; `now`
// of each is the local day of `at_us` there. Its incumbents are the methods that the latest
// forecast of the diary names, so that a forecast changes its method only for one that is clearly
// better. An order without a day of surgery counts by the day on which it is needed, else by the
// day it was taken.
std::vector<BranchInput> PlannerInput(const Records& records, int64_t at_us);
// The same for a forecast: the branches have told each other what each alone cannot know.
std::vector<BranchInput> ForecastInput(const Records& records, int64_t at_us);

// Units of the branch and class in use and in the fleet at the end of each local day from `first`
// through `last`: in use is handed over and not yet ready again.
struct PastUse {
  std::vector<int> in_use;
  std::vector<int> fleet;
};
class PastUses {
 public:
  PastUses(const Records& records, int64_t first, int64_t last);
  const PastUse& Of(const std::string& branch, const std::string& device_class) const;

 private:
  std::map<std::pair<std::string, std::string>, PastUse> uses_;
  PastUse none_;
};

}  // namespace ferrule::outlook
