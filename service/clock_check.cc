#include "service/clock_check.h"

#include <string>

#include "absl/strings/str_cat.h"
#include "core/time/civil.h"

namespace ferrule::service {

absl::Status CheckClock(int64_t now_us, int64_t last_us) {
  const absl::Duration ahead = absl::Microseconds(now_us) - absl::Microseconds(last_us);
  if (ahead >= -kClockBehind && ahead <= kClockAhead) return absl::OkStatus();
  return absl::FailedPreconditionError(
      absl::StrCat("this machine's clock says ", time::FormatUtc(now_us),
                   ", and the last entry was recorded at ", time::FormatUtc(last_us),
                   ": set the clock and start again. If the clock is right, start with "
                   "--clock-is-right; nothing "
                   "was recorded"));
}

}  // namespace ferrule::service
