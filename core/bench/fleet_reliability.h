// Reliability figures of a model out of the pasts of its units.
#pragma once

#include <cstdint>
#include <string>
#include <vector>

#include "core/bench/repairs.h"
#include "ferrule/v1/bench_service.pb.h"

namespace ferrule::bench {

// What one unit's past comes to within the window that is asked for.
struct UnitPast {
  std::string unit;
  std::string model;
  double from_run_hours = 0;              // true run hours when the window began
  double to_run_hours = 0;                // and now
  std::vector<double> failure_run_hours;  // of its own failures, rising
  int no_fault_found = 0;
  int repeats = 0;
  int first_inspections = 0;
  int first_passed = 0;

  double hours() const { return to_run_hours - from_run_hours; }
};

// The past of one unit from `from_us` on; `repairs` as collected over all times.
// First inspections are those that come first after a return; see FirstInspections.
void PutRepairs(const RepairLog& repairs, int64_t from_us, UnitPast* past);

// Figures by model. The hours between failures are counted from repair to repair, those that go on
// as not yet ended. The trend is that within the units: each failure at its share of its own unit's
// hours, pooled (under a constant rate the shares are uniform, so the sum of their logarithms is
// chi-square with two degrees a failure).
std::vector<v1::ReliabilityRow> ReliabilityOf(const std::vector<UnitPast>& pasts,
                                              double confidence);

// Units with their chances, the least likely first. Each is held against its own model; the
// correction is for all units looked at.
std::vector<v1::FailingUnit> FailingUnits(const std::vector<UnitPast>& pasts,
                                          double false_alarm_share);

}  // namespace ferrule::bench
