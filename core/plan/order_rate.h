// Orders per day that the calendar expects of a class, past and to come, and how surely: the
// pattern of the whole branch at the class's own share, with as much of the class's own as its
// orders support. The branch's is, in the same way, that of all branches at its own share.
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
  double At(int64_t day) const;  // 0 beyond the days it has
};

// Of one class, or of all when `device_class` is negative. Second sides are left out, as they
// follow from first ones and not from the calendar, and so are the first days on record, as what
// was booked for them before the records began is missing. It goes back three years, and on to ten
// as long as no class was surely at another level before.
OrderStream StreamOf(const std::vector<Booking>& known, const SidesOf& sides, int64_t now,
                     int device_class);

inline constexpr size_t kDaysPerBlock = 7;  // the level moves from week to week
inline constexpr size_t kMostBlocks = 522;  // weeks that it is followed back

// Fewer surgeries than this do not speak for themselves.
inline constexpr double kThinOrders = 60;

struct OrderRate {
  std::vector<double> expected;    // per day, from the stream's first day to the horizon's end
  std::vector<double> steady;      // the same as weekday and holiday alone have it
  size_t blocks_ahead = 0;         // weeks of the horizon
  std::vector<double> covariance;  // of the log rate of these weeks, row by row
};

// What the other branches of a depot tell about one (core/plan/other_branches.h). Without any,
// nothing.
struct OtherBranches {
  // Of those that were open on its first day; the branch itself was when it is as old.
  OrderStream orders;
  LawEvidence wandering;  // how the orders of their classes wander

  OtherBranches Until(int64_t day) const;  // the orders up to that day
};

class OrderRates {
 public:
  // Learns the branch's pattern. `holidays` are days without surgery, past and coming.
  OrderRates(const OrderStream& branch, const std::vector<int64_t>& holidays, int64_t horizon,
             const OtherBranches& others = {});

  OrderRate Of(const OrderStream& own) const;
  // How the level of a class may wander.
  const std::vector<LikelyLaw>& laws() const { return laws_; }

 private:
  struct Pattern {
    CalendarShape shape;
    OrderRate rate;
    double season_variance = 0, growth_variance = 0;
  };
  // Of a stream by itself, its first `blank` days left out.
  Pattern Alone(const OrderStream& stream, size_t blank,
                const std::vector<int64_t>& holidays) const;
  static Pattern Since(Pattern pattern, int64_t day);
  // Of a part of what `whole` is the pattern of. A branch has its own weekdays and holidays, a
  // class those of its branch but for what its orders surely show.
  Pattern PartOf(const Pattern& whole, const OrderStream& own, bool is_branch) const;

  OrderStream branch_;
  size_t horizon_;
  std::vector<LikelyLaw> laws_;
  Pattern pattern_;
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
                        const std::vector<LevelBlock>& blocks, size_t blocks_ahead,
                        const std::vector<LikelyLaw>& laws);

}  // namespace ferrule::plan
