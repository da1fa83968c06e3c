// Which method says how many orders the coming weeks bring. The calendar and its level do, unless
// another has forecast the weekly counts clearly better from past weeks: then that one gives the
// level of the coming weeks and how surely it is known, and the calendar spreads it over the days.
#pragma once

#include <cstdint>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "core/plan/booking.h"
#include "core/plan/champion.h"
#include "core/plan/order_rate.h"
#include "core/plan/second_side.h"

namespace ferrule::plan {

struct WeekRate {
  Method method = Method::kCalendar;
  std::vector<MethodScore> scores;  // best first; empty where none could be compared
  std::string words;                // the choice and why, for the basis of a forecast
  // Unless the calendar model was chosen: orders of each coming day, and for each coming week the
  // variance of the log of its rate.
  std::vector<double> expected, log_variance;
};

// Weeks that a forecast is scored on, origins that are scored, and weeks before the oldest one.
inline constexpr int kScoredWeeks = 8, kScoredOrigins = 13, kWeeksBefore = 26;

// The methods are scored by pinball loss, over the naive scale, on the weekly counts of the eight
// weeks after each of 13 past origins, up to four weeks apart, out of surgeries dated up to the
// origin. Calendars and smoothing are fitted anew at every fifth origin and followed from there.
// Challengers are the last year's weeks, exponential smoothing, the mean and the smoothed rate and,
// where weeks are empty, Croston's methods. The incumbent stays unless a challenger is better by a
// tenth, or the calendar model by 3 %. A class too rare to tell is judged, and forecast by another
// method, as its share of the whole branch.
class WeekRates {
 public:
  // The parts must outlive this. `rates` are those of the branch at `now`; how its level may
  // wander is taken from today for the past dates, too.
  WeekRates(const std::vector<Booking>& known, const SidesOf& sides,
            const std::vector<int64_t>& holidays, int64_t now, const OrderRates& rates,
            const OtherBranches& others = {});
  // `own` and `rate` of the class at now.
  WeekRate Of(int device_class, const OrderStream& own, const OrderRate& rate, Method incumbent);

 private:
  struct Anchor {
    int64_t day = 0;
    int origins = 0;  // that follow from it, itself first
    OrderRates rates;
  };
  std::vector<MethodScore> Scores(int device_class) const;

  const std::vector<Booking>& known_;
  const SidesOf& sides_;
  const int64_t now_;
  const OrderRates& rates_;
  OrderStream branch_;
  int step_ = 0;  // weeks between origins; 0: too little history
  std::vector<Anchor> anchors_;
  std::optional<std::vector<MethodScore>> branch_scores_;
};

// The method that a basis told with `words` names, as the incumbent of the next forecast; none when
// it names none.
std::optional<Method> MethodIn(std::string_view basis);

}  // namespace ferrule::plan
