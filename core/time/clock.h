// Clocks. No rule reads one: the time is an argument. Only service and cli own a SystemClock.
#pragma once

#include <atomic>
#include <cstdint>

namespace ferrule::time {

// Gives the present instant. Thread-safe.
class Clock {
 public:
  virtual ~Clock() = default;
  // Microseconds since 1970-01-01T00:00:00Z.
  virtual int64_t NowMicros() const = 0;
};

// The machine's clock.
class SystemClock : public Clock {
 public:
  int64_t NowMicros() const override;
};

// A clock that stands where it was put: for tests and for the synthetic depot.
class ManualClock : public Clock {
 public:
  explicit ManualClock(int64_t now_us) : now_us_(now_us) {}
  int64_t NowMicros() const override { return now_us_.load(); }
  void Set(int64_t now_us) { now_us_.store(now_us); }

 private:
  std::atomic<int64_t> now_us_;
};

}  // namespace ferrule::time
