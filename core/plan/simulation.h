// Paths of a class's units over a window: what no formula gives, such as the chance to be short at
// least once, or the orders lost when every refusal frees a later day. The same seed and path give
// the same orders for every size of fleet, so that two answers differ by the fleet alone.
#pragma once

#include <cstdint>
#include <vector>

namespace ferrule::plan {

struct SimulationInput {
  std::vector<double> orders;         // expected orders on each day of the window, >= 0
  std::vector<double> length_chance;  // P(in use for exactly k days), k = 0..; scaled to sum 1
  double level_doubt = 0;             // coefficient of variation of the level, drawn once per path
  int paths = 2000;
  uint64_t seed = 1;
};

// Units wanted without a limit, counted at the end of each day; the window starts empty.
struct WantedPaths {
  std::vector<double> mean;      // per day
  std::vector<double> variance;  // per day
  std::vector<int> most;         // per path: the most wanted on any day

  // P(more than `units` wanted at least once in the window).
  double ShortAtLeastOnce(int64_t units) const;
};
WantedPaths SimulateWanted(const SimulationInput& input);

// Orders that find all `units` in use are lost.
struct LossResult {
  double orders = 0;  // per path
  double lost = 0;
  double lost_share = 0;
};
LossResult SimulateLoss(const SimulationInput& input, int64_t units);

}  // namespace ferrule::plan
