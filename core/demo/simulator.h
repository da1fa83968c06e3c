// A synthetic depot's years as entries: orders, rentals, turnarounds and mishaps at the rates of
// core/demo/rates.h, produced in the order in which a ledger would record them.
//
// Pure: the same options give the same entries, byte for byte. Every entry marked enforced keeps
// the rules, so that a ledger refuses none; observed ones may raise questions, as in life.
//
//   Simulator simulator({.seed = 7, .years = 2, .units = 250});
//   Batch batch;
//   while (simulator.Next(&batch)) Record(batch.entries, batch.recorded_us);
#pragma once

#include <cstdint>
#include <memory>
#include <vector>

#include "absl/time/civil_time.h"
#include "core/demo/scenario.h"
#include "ferrule/v1/facts.pb.h"

namespace ferrule::demo {

struct Options {
  uint64_t seed = 1;
  int years = 2;                          // 1 to 20
  int units = 250;                        // 20 to 200,000
  absl::CivilDay start_day{2024, 1, 1};   // local, the same at every branch
  int64_t fact_limit = 0;                 // stop after at least so many facts; 0 for no limit
  int64_t batch_span_us = 3'600'000'000;  // entries of one such stretch share a recorded time
};

// The start day from which so many years end with `last_day`, or with the day before where
// `last_day` is the eve of 29 February.
absl::CivilDay StartDayFor(absl::CivilDay last_day, int years);

// Entries that are recorded one after the other at one instant of the ledger's clock.
struct Batch {
  int64_t recorded_us = 0;         // never falls from batch to batch, and no fact lies after it
  std::vector<v1::Entry> entries;  // 1 to 500
};

class Simulation;

class Simulator {
 public:
  explicit Simulator(const Options& options);
  ~Simulator();

  // The next batch; false when the run is over.
  bool Next(Batch* batch);

  // Facts produced so far.
  int64_t fact_count() const;
  // The instant at which the run ends, whatever the limit of facts.
  int64_t end_us() const;

 private:
  std::unique_ptr<Simulation> simulation_;
};

}  // namespace ferrule::demo
