// Odds of promises held against what happened: the synthetic depot is recorded day by day, on many
// days odds are told from the records as they stand, and when the run is over each is compared with
// what became of the units.
#pragma once

#include <array>
#include <cstdint>
#include <map>
#include <memory>
#include <string>
#include <vector>

#include "core/store/connection.h"

namespace ferrule::testing {

struct CalibrationOptions {
  uint64_t seed = 1;
  int units = 120;  // small pools: in large ones the odds are all but sure
  int years = 2;
  int warm_up_days = 270;  // until the law of returns has something to learn from
  int every_days = 2;
};

// One decile of told odds.
struct Decile {
  int64_t count = 0;
  double told = 0;  // mean of the told odds
  double kept = 0;  // share that was kept
  // Standard error of kept - told. Promises of one pool within four weeks share units and fates, so
  // each such group counts as one observation (the usual variance of grouped sums).
  double error = 0;
};

struct Calibration {
  int64_t promises = 0;
  // The odds of single units that the promises rest on, apart: "returned in 3 days, pick-up agreed"
  // and the like.
  std::map<std::string, Decile> parts;
  std::array<Decile, 10> deciles;
  double worst = 0;  // greatest difference of told and kept among filled deciles
};
// A decile is filled from so many promises on.
inline constexpr int64_t kFilled = 200;

// `database` is empty and migrated. Promises of 1 to 14 days ahead are told for every branch and
// class; how many units they ask for is drawn so that the odds are of every size.
Calibration Calibrate(std::unique_ptr<store::Database> database, const CalibrationOptions& options);

// Adds the promises of one run to those of another.
void Add(const Calibration& more, Calibration* sum);

// The deciles, then the parts, one a line.
std::string Words(const Calibration& calibration);

}  // namespace ferrule::testing
