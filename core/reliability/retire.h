// Repair or retire: what a unit cost, how old it is, how often it fails, and what it can still
// earn.
#pragma once

#include <cstdint>
#include <string>
#include <vector>

namespace ferrule::reliability {

// Amounts in hundredths of the currency.
struct RepairCase {
  int64_t repair_cost = 0;  // of the repair in question
  int64_t spent = 0;        // on repairs so far
  int64_t spent_last_year = 0;
  int64_t replacement_cost = 0;  // 0 when not known
  int64_t model_spent = 0;       // on repairs of all units of the model
  int64_t model_turns = 0;       // of all units of the model
  double age_days = 0;           // since it joined the fleet
  double life_years = 5;
  int64_t turns = 0;
  double repair_share = 0.5;   // of the replacement cost that a year's repairs may eat
  bool beyond_chance = false;  // it fails more often than chance allows
};

struct RepairAdvice {
  bool retire = false;
  std::vector<std::string> reasons;     // each in a sentence with its numbers
  double remaining_turns = 0;           // at its own pace until the end of its life
  int64_t repaired_cost_per_turn = -1;  // this repair spread over them, and repairs as before
  int64_t new_cost_per_turn = -1;       // of a new one over its life, with the model's repairs
};

// Retirement is proposed when the year's repairs eat more than their share of a new one, when a
// turn of the repaired unit costs more than one of a new unit, or when its life is over. Failing
// beyond chance alone is a reason to look, not to retire. Common practice, no source.
RepairAdvice AdviseRepair(const RepairCase& unit);

}  // namespace ferrule::reliability
