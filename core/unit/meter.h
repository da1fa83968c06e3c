// Run-hour meters: segments over replacement and roll-over, and readings that cannot be true.
//
// A reading that breaks a rule is not taken into the meter: the last good one stays, so that one
// slip of the pen does not make every later reading wrong. It opens a question; reversing the slip
// (or recording the roll-over or replacement that explains it) folds the meter anew.
#pragma once

#include <cstdint>
#include <optional>

#include "core/fact/fact_view.h"
#include "core/finding/raise.h"
#include "ferrule/v1/facts.pb.h"
#include "ferrule/v1/states.pb.h"

namespace ferrule::unit {

// What a meter shows is exact to 0.1 h, so this much more than the elapsed time may be true.
inline constexpr int64_t kMeterResolutionS = 360;

// A fact about one unit's meter. The meter is begun with the reading on the unit's arrival.
class MeterFold {
 public:
  MeterFold(const fact::FactView& view, finding::Raiser* raiser, v1::Meter* meter)
      : view_(view), raiser_(raiser), meter_(meter) {}

  void Begin(int64_t reading_s);
  void Read(int64_t reading_s);
  // Without a last reading of the old meter the true run time is only known to be at least this.
  void Replace(std::optional<int64_t> old_last_s, int64_t new_first_s);
  void RollOver(int64_t reading_s, int64_t width_s);

 private:
  // Whether so much may have been added since the last reading; raises what is broken if not.
  bool Plausible(int64_t added_s, int64_t reading_s, int64_t last_s);
  void StartSegment(int64_t first_s);

  const fact::FactView& view_;
  finding::Raiser* raiser_;
  v1::Meter* meter_;
};

}  // namespace ferrule::unit
