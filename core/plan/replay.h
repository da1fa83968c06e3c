// Recorded orders run again against a fleet of another size, or changed, in the order in which they
// came: no law is assumed. An order that finds no unit is lost.
#pragma once

#include <cstdint>
#include <vector>

namespace ferrule::plan {

struct ReplayOrder {
  int64_t day = 0;     // on which it wants its unit
  int64_t length = 1;  // days until the unit is ready again; 0 or less takes no unit
};

struct ReplayResult {
  double orders = 0;
  double lost = 0;
  double used_unit_days = 0;  // within the window
  double lost_unit_days = 0;  // that the lost ones would have used
};

// Days [first, last], beginning with all units free. Orders in any order; those outside the window
// are left out.
ReplayResult Replay(const std::vector<ReplayOrder>& orders, int64_t first, int64_t last,
                    int64_t units);

// Two streams side by side over the same window cut into blocks of four weeks that are drawn with
// replacement, the same blocks for both: standard errors of changed less base.
struct ReplayError {
  double lost = 0;
  double lost_share = 0;
  double used_unit_days = 0;
};
ReplayError PairedError(const std::vector<ReplayOrder>& base, int64_t base_units,
                        const std::vector<ReplayOrder>& changed, int64_t changed_units,
                        int64_t first, int64_t last, int draws, uint64_t seed);

}  // namespace ferrule::plan
