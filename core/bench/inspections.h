// A unit's inspections as they were judged on their day, its readings over time, and what failed
// again.
#pragma once

#include <cstdint>
#include <string>
#include <vector>

#include "core/bench/replay.h"
#include "ferrule/v1/bench_service.pb.h"

namespace ferrule::bench {

// Collects the inspections out of a replay.
class InspectionLog {
 public:
  explicit InspectionLog(const depot::SettingsBook& book) : book_(book) {}

  void Visit(const Moment& moment);

  // The oldest first.
  const std::vector<v1::InspectionRow>& rows() const { return rows_; }
  // One trend an item that was ever read as a number with a unit of measure, in the order of the
  // items' names. The readings after the last repair or change of a part are held against limits
  // made of the first `base` of them; `unit` is the bare tag.
  std::vector<v1::Trend> Trends(const std::string& unit, size_t base) const;

 private:
  struct Taken {
    v1::Stamp done;
    double value;
    int period;  // counts up with every repair and changed part
  };
  struct Item {
    std::string name;
    std::string measure;
    v1::ChecklistItem limits;  // of the version that was followed last
    std::vector<Taken> taken;
  };
  Item& ItemOf(const std::string& name);

  const depot::SettingsBook& book_;
  int period_ = 0;
  std::vector<v1::InspectionRow> rows_;
  std::vector<Item> items_;  // by name
};

// Counts inspections that came first after a return, and those of them that passed. A retest after
// a repair or an adjustment is none, and one without a verdict does not count.
class FirstPass {
 public:
  explicit FirstPass(int64_t from_us) : from_us_(from_us) {}

  void Visit(const Moment& moment);
  int inspections() const { return inspections_; }
  int passed() const { return passed_; }

 private:
  const int64_t from_us_;
  int inspections_ = 0;
  int passed_ = 0;
};

// Items that failed in the last inspection of `inspections` (the oldest first) and in an earlier
// one; `repairs` likewise. Within `repeat_days` local days of the earlier one it is a repeat.
std::vector<v1::RepeatedFailure> Repeats(const std::vector<v1::InspectionRow>& inspections,
                                         const std::vector<v1::RepairRow>& repairs, int repeat_days,
                                         absl::TimeZone zone);

}  // namespace ferrule::bench
