// Run hours segment by segment, and how much a unit runs on a day on rent.
#pragma once

#include <cstdint>
#include <vector>

#include "core/bench/replay.h"
#include "ferrule/v1/bench_service.pb.h"

namespace ferrule::bench {

// Collects meter segments and use out of a replay. Facts that are about neither meter nor custody
// may be left out of it.
class RunLog {
 public:
  void Visit(const Moment& moment);

  const std::vector<v1::MeterSegment>& segments() const { return segments_; }
  // Readings that were given and not taken.
  int doubtful() const { return doubtful_; }
  // Run seconds a day on rent, over the rentals that have a reading at both ends; 0 without any.
  int64_t daily_use_s() const;
  // Days of a rental to the nearest, over those that ended; 0 without any.
  int rental_days() const;

 private:
  void Segments(const Moment& moment);
  void Rentals(const Moment& moment);

  std::vector<v1::MeterSegment> segments_;
  int doubtful_ = 0;
  int64_t out_us_ = 0;  // of the set-out that lasts; 0 when the unit is not out
  bool out_read_ = false;
  int64_t out_run_s_ = 0;
  int64_t over_us_ = 0;  // length of a rental that ended and awaits its reading
  int64_t used_s_ = 0;
  int64_t used_over_us_ = 0;
  int64_t rented_us_ = 0;
  int rentals_ = 0;
};

}  // namespace ferrule::bench
