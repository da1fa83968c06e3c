// Orders per day that the calendar expects of a class, past and to come, and how surely: the
// pattern of the whole branch at the class's own share, with as much of the class's own as its
// orders support.
#pragma once

#include <cstdint>
#include <vector>

#include "core/plan/booking.h"
#include "core/plan/calendar.h"
#include "core/plan/level.h"
#include "core/plan/second_side.h"

namespace ferrule::plan {

// Surgeries that held, by day, from `first` to now.
struct OrderStream {
  int64_t first = 0;
  std::vector<double> counts;

  double Total() const;
};

// Of one class, or of all when `device_class` is negative. Second sides are left out, as they
// follow from first ones and not from the calendar, and so are the first days on record, as what
// was booked for them before the records began is missing.
OrderStream StreamOf(const std::vector<Booking>& known, const SidesOf& sides, int64_t now,
                     int device_class);

inline constexpr size_t kDaysPerBlock = 7;  // the level moves from week to week
inline constexpr size_t kMostBlocks = 156;  // weeks that it is followed back

// Fewer surgeries than this do not speak for themselves.
inline constexpr double kThinOrders = 60;

struct OrderRate {
  std::vector<double> expected;    // per day, from the stream's first day to the horizon's end
  std::vector<double> steady;      // the same as weekday and holiday alone have it
  size_t blocks_ahead = 0;         // weeks of the horizon
  std::vector<double> covariance;  // of the log rate of these weeks, row by row
};

class OrderRates {
 public:
  // Learns the branch's pattern. `holidays` are days without surgery, past and coming.
  OrderRates(const OrderStream& branch, const std::vector<int64_t>& holidays, int64_t horizon);

  OrderRate Of(const OrderStream& own) const;

 private:
  OrderStream branch_;
  CalendarShape shape_;
  size_t horizon_;
  OrderRate pattern_;
  double season_variance_ = 0, growth_variance_ = 0;
};

// The last weeks of a stream, with nothing yet of the weeks ahead.
std::vector<LevelBlock> BlocksOf(const OrderStream& stream, const std::vector<double>& expected,
                                 size_t blocks_ahead);

// The level on top of what the calendar expects, and how much more than by chance the days scatter
// about both: variance over mean, >= 1. `blocks` are those of BlocksOf, with what is known of the
// weeks ahead.
struct OrderLevel {
  Level level;
  double dispersion = 1;
};
OrderLevel FollowOrders(const OrderStream& stream, const std::vector<double>& expected,
                        const std::vector<LevelBlock>& blocks, size_t blocks_ahead);

}  // namespace ferrule::plan
