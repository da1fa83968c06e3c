// Orders per day that the calendar expects of a class, past and to come, and how surely: the
// pattern of the whole branch at the class's own share, with as much of the class's own as its
// orders support. The branch's is, in the same way, that of all branches at its own share.
#pragma once

#include <cstdint>
#include <map>
#include <memory>
#include <tuple>
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

// What the calendar makes of a stream.
struct OrderPattern {
  CalendarShape shape;
  OrderRate rate;
  double season_variance = 0, growth_variance = 0;
};

// The surgeries since some day of all branches of a depot that were open on it, and how the orders
// of all their classes wander. For one thread at a time.
class DepotOrders {
 public:
  DepotOrders(OrderStream orders, LawEvidence wandering);

  // As known on day `last`, for the days from `first` to `horizon` days after `last`. What one
  // branch has asked is kept for the next.
  OrderPattern PatternOf(int64_t first, int64_t last, size_t horizon,
                         const std::vector<int64_t>& holidays);

 private:
  // What a pattern depends on: its first day, and the arguments above.
  using Asked = std::tuple<int64_t, int64_t, size_t, std::vector<int64_t>>;
  OrderStream orders_;
  std::vector<LikelyLaw> laws_;
  std::map<Asked, OrderPattern> kept_;
};

// What a branch is told by the others of its depot (core/plan/other_branches.h).
struct OtherBranches {
  std::shared_ptr<DepotOrders> depot;  // none: the branch is on its own
  LawEvidence wandering;               // how the orders of the others' classes wander
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
  OrderStream branch_;
  std::vector<LikelyLaw> laws_;
  OrderPattern pattern_;
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
