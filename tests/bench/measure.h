// Timing and the report: every figure stands beside its floor and the ratio of the two.
#pragma once

#include <cstdint>
#include <functional>
#include <string>
#include <vector>

#include "nlohmann/json.hpp"

namespace ferrule::bench {

// Entry ids that say when they were made, as those of `ferrule`, or ids that say nothing of it and
// are found by their hashes (EntryKey in core/ledger/chain.h).
enum class Ids { kTimed, kForeign };

// What the sub-benches get from the command line.
struct Options {
  std::string folder;          // scratch space on the disk that is measured
  std::string programs;        // folder with the programs `ferrule` and `ferruled`
  std::string postgres;        // libpq connection string; empty leaves PostgreSQL out
  int units = 1000;            // size of the depot
  int64_t facts = 30'000;      // facts in it, at least
  int64_t growth = 1'000'000;  // the longest history of the bench "growth"
  std::string shape;           // of it alone: fleet, fleet_newest or long_histories
  Ids ids = Ids::kTimed;       // of its entries
  double seconds = 3;          // length of one measurement
  int repeats = 3;             // measurements of each figure; the median is reported
};

// Wall time since construction.
class Stopwatch {
 public:
  Stopwatch();
  double Seconds() const;

 private:
  int64_t start_ns_;
};

// CPU time of this process so far, and of the calling thread alone.
double OwnCpuSeconds();
double ThreadCpuSeconds();

// The value at a share (0 to 1) of the sorted values; 0 when there are none.
double Percentile(std::vector<double> values, double share);
double Median(std::vector<double> values);

// Runs `measure` as often as the options say and gives the median.
double MedianOf(const Options& options, const std::function<double()>& measure);

// Figures in the order in which they were taken.
class Report {
 public:
  // A floor or a fact about the run.
  void Put(const std::string& section, const std::string& name, nlohmann::json value);
  // A figure against its floor. Where more is better the ratio is called "share_of_floor",
  // otherwise "times_floor"; it is 1 at the floor in both.
  void PutAgainst(const std::string& section, const std::string& name, double figure,
                  const std::string& floor_name, double floor, bool more_is_better);
  double Get(const std::string& section, const std::string& name) const;
  bool Has(const std::string& section, const std::string& name) const;
  std::string Text() const { return json_.dump(2); }

 private:
  nlohmann::ordered_json json_;
};

}  // namespace ferrule::bench
