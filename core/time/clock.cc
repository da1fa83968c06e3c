#include "core/time/clock.h"

#include <chrono>

namespace ferrule::time {

int64_t SystemClock::NowMicros() const {
  const auto since_epoch = std::chrono::system_clock::now().time_since_epoch();
  return std::chrono::duration_cast<std::chrono::microseconds>(since_epoch).count();
}

}  // namespace ferrule::time
