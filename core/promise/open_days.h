// On which days of the week something is done at all: pick-ups on six days, say, and the work of
// the bench on five. Learned from the days on which it was done.
#pragma once

#include <array>
#include <cstdint>
#include <set>
#include <vector>

namespace ferrule::promise {

// 0 is Monday. Days are day numbers, counted from 1970-01-01, a Thursday.
int WeekdayOf(int64_t day);

// A day of the week is closed when it has less than a fifth of its share of the days on which
// something was done, and Saturday and Sunday are while too little is known. Days off are closed
// whatever weekday they are.
class OpenDays {
 public:
  OpenDays() = default;
  OpenDays(const std::vector<int64_t>& done_on, std::set<int64_t> days_off);

  bool IsOpen(int64_t day) const;
  // Open days after `from` up to and with `through`; 0 when it is no later.
  int64_t Between(int64_t from, int64_t through) const;
  // The first open day after that one.
  int64_t NextAfter(int64_t day) const;

 private:
  std::array<bool, 7> open_ = {true, true, true, true, true, false, false};
  std::set<int64_t> days_off_;
};

}  // namespace ferrule::promise
