// Who sends what where: units moved between places at the least total cost, where the first unit
// that a place gives or gets matters more than the next, and moving nothing is an answer.
#pragma once

#include <cstddef>
#include <vector>

namespace ferrule::plan {

struct TransferPlace {
  // Cost to the place of giving away its first, second, ... unit, >= 0 and never falling; as many
  // as it has to give.
  std::vector<double> loss;
  // What a first, second, ... unit more is worth to it, >= 0 and never rising.
  std::vector<double> gain;
};

struct TransferLane {
  size_t from = 0;
  size_t to = 0;
  double cost = 0;  // of moving one unit and of what its way costs the receiver, >= 0
};

struct TransferMove {
  size_t from = 0;
  size_t to = 0;
  int units = 0;
};

struct TransferPlan {
  std::vector<TransferMove> moves;  // by sender, then receiver
  double saved = 0;                 // gains less losses and costs; 0 when nothing moves
};

// The best plan as a flow of least cost (successive shortest paths). Lanes to or from no place are
// left out.
TransferPlan PlanTransfers(const std::vector<TransferPlace>& places,
                           const std::vector<TransferLane>& lanes);

}  // namespace ferrule::plan
