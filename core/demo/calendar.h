// The days of a simulated run in the zones of its branches: local midnights worked out once, so
// that an event's instant costs a look-up.
#pragma once

#include <cstdint>
#include <vector>

#include "absl/time/civil_time.h"
#include "absl/time/time.h"

namespace ferrule::demo {

inline constexpr int64_t kSecond = 1'000'000;
inline constexpr int64_t kMinute = 60 * kSecond;
inline constexpr int64_t kHour = 60 * kMinute;
inline constexpr int64_t kNever = INT64_MAX;

// Days are counted from the first day of the run, which is day 0.
class Calendar {
 public:
  // `zones` one a branch; `days` is the length of the run.
  Calendar(absl::CivilDay first_day, int days, const std::vector<absl::TimeZone>& zones);

  int days() const { return days_; }
  absl::CivilDay Civil(int day) const { return first_day_ + day; }
  // 0 is Monday.
  int Weekday(int day) const { return (first_weekday_ + day % 7 + 7) % 7; }
  // 1 to 12.
  int Month(int day) const;
  bool IsWorking(int day) const { return Weekday(day) < 5; }
  // That day if it is a working day, else the next one.
  int WorkingFrom(int day) const;
  // `count` working days later; 0 gives WorkingFrom(day).
  int AddWorking(int day, int count) const;

  // The instant `minute` minutes after local midnight; kNever after the run. On the two days a
  // year on which clocks change it is an hour off the wall clock, which does not matter here.
  int64_t At(int branch, int day, int64_t minute) const;
  // The local day of an instant within the run.
  int DayOf(int branch, int64_t us) const;
  // Minutes since local midnight.
  int64_t MinuteOf(int branch, int64_t us) const;

 private:
  absl::CivilDay first_day_;
  int days_;
  int first_weekday_;
  std::vector<int> zone_of_branch_;
  std::vector<std::vector<int64_t>> midnights_;  // by zone, by day
  std::vector<int8_t> months_;                   // by day
};

}  // namespace ferrule::demo
