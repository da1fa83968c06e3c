// Units that fail more often than chance allows, corrected for their hours and for looking at many.
#pragma once

#include <cstdint>
#include <vector>

namespace ferrule::reliability {

// One unit among its like.
struct Exposure {
  double hours = 0;
  int64_t failures = 0;
};

// For each, the chance that it would have so many failures or more if all failed at one rate.
// Given the failures of all together, those of one are binomial with its share of the hours, so
// the rate need not be known. A unit without hours that failed has chance 0; without any, 1.
std::vector<double> ChancesOfSoMany(const std::vector<Exposure>& units);

// Corrected for looking at many: naming those at or below q makes at most q of those named false
// alarms, on average. Benjamini and Hochberg, J. R. Statist. Soc. B 57 (1995) 289-300.
std::vector<double> CorrectForMany(const std::vector<double>& chances);

}  // namespace ferrule::reliability
