// A unit's repairs with parts and meter on both sides, and the failures among them.
#pragma once

#include <cstdint>
#include <vector>

#include "absl/time/civil_time.h"
#include "core/bench/replay.h"
#include "ferrule/v1/bench_service.pb.h"

namespace ferrule::bench {

// A failure of the unit's own: a repair that found something, for no cause outside the device.
struct Failure {
  absl::CivilDay day;  // of its closing, where the unit stood
  int64_t at_us = 0;   // when the repair was closed
  int64_t run_s = 0;   // true run time when it began
  v1::Stamp closed;
};

// Collects the repairs out of a replay.
class RepairLog {
 public:
  RepairLog(const depot::SettingsBook& book, int repeat_days)
      : book_(book), repeat_days_(repeat_days) {}

  void Visit(const Moment& moment);

  // The oldest first; the last one may be open.
  const std::vector<v1::RepairRow>& rows() const { return rows_; }
  const std::vector<Failure>& failures() const { return failures_; }

 private:
  v1::RepairRow* Open();
  void Close(const Moment& moment);
  bool IsOutside(const std::string& cause, int64_t at_us) const;

  const depot::SettingsBook& book_;
  const int repeat_days_;
  std::vector<v1::RepairRow> rows_;
  std::vector<Failure> failures_;
};

}  // namespace ferrule::bench
