#include "core/plan/week_rate.h"

#include <gtest/gtest.h>

#include <cmath>
#include <functional>
#include <set>

#include "core/plan/occupancy.h"
#include "core/plan/random.h"

namespace ferrule::plan {
namespace {

constexpr int64_t kNow = 20'002;  // a Sunday
constexpr int kAhead = 56;
constexpr int kYears3 = 1095;

// Orders of one class on each day `ago` before now, and those that tomorrow's date is booked for;
// weekends closed.
std::vector<Booking> Draw(const std::function<double(int)>& per_day, uint64_t seed,
                          int days = kYears3, int device_class = 0) {
  Random random(seed, static_cast<uint64_t>(device_class) + 5);
  std::vector<Booking> bookings;
  for (int ago = days - 1; ago >= -1; --ago) {
    const int64_t day = kNow - ago;
    const double rate = (day + 3) % 7 < 5 ? 1.4 * per_day(ago) : 0;
    for (int64_t n = random.Poisson(rate); n > 0; --n) {
      Booking b;
      b.id = bookings.size() + 1 + 1'000'000 * static_cast<uint64_t>(device_class);
      b.device_class = device_class;
      b.booked = day - 1;
      b.surgery = day;
      b.start = day + 1;
      b.returned = b.start + 20;
      b.ready = b.returned + 2;
      bookings.push_back(b);
    }
  }
  return bookings;
}

struct Answer {
  WeekRate week;
  double calendar = 0;  // orders of the horizon as the calendar model has them
  double chosen = 0;    // as the method that was chosen has them
};

Answer Ask(const std::vector<Booking>& bookings, int device_class = 0,
           Method incumbent = Method::kCalendar) {
  const std::vector<Booking> known = KnownAt(bookings, kNow);
  const SidesOf sides = TellSides(known, kNow, 2);
  const OrderRates rates(StreamOf(known, sides, kNow, -1), {}, kAhead);
  WeekRates weeks(known, sides, {}, kNow, rates);
  const OrderStream own = StreamOf(known, sides, kNow, device_class);
  const OrderRate rate = rates.Of(own);
  Answer answer;
  answer.week = weeks.Of(device_class, own, rate, incumbent);
  const OrderLevel level =
      FollowOrders(own, rate.expected, BlocksOf(own, rate.expected, rate.blocks_ahead),
                   rate.blocks_ahead, rates.laws());
  const size_t past = own.counts.size(), first = level.level.log_mean.size() - rate.blocks_ahead;
  for (size_t i = 0; i < kAhead; ++i)
    answer.calendar += rate.expected[past + i] * level.level.Mean(first + i / kDaysPerBlock);
  answer.chosen = answer.calendar;
  if (answer.week.method != Method::kCalendar) {
    answer.chosen = 0;
    for (double x : answer.week.expected) answer.chosen += x;
  }
  return answer;
}

// What is drawn from has no level that wanders about a mean: the truth of the weeks to come is the
// rate itself. In each of these the calendar model goes back to a mean that is gone.
TEST(WeekRates, AnotherMethodTakesOverWhereDemandBrokeOff) {
  struct Case {
    const char* name;
    double before, since;
    int days;  // since the break
    double calendar_off, chosen_off;
  };
  for (const Case& c : {Case{"stopped", 1, 0, 140, 4, 2}, Case{"fell", 2, .5, 182, 5, 9},
                        Case{"rose", .5, 2, 182, 15, 16}}) {
    double calendar = 0, chosen = 0;
    for (uint64_t seed = 1; seed <= 3; ++seed) {
      const Answer answer =
          Ask(Draw([&](int ago) { return ago < c.days ? c.since : c.before; }, seed));
      EXPECT_NE(answer.week.method, Method::kCalendar) << c.name << ": " << answer.week.words;
      EXPECT_LT(std::abs(answer.chosen - c.since * kAhead), c.chosen_off) << c.name;
      calendar += std::abs(answer.calendar - c.since * kAhead) / 3;
      chosen += std::abs(answer.chosen - c.since * kAhead) / 3;
    }
    EXPECT_GT(calendar, c.calendar_off) << c.name;
    EXPECT_LT(chosen, calendar / 2) << c.name;
  }
}

// A visiting surgeon operates one week in four: five orders on Monday and three on Tuesday, for
// certain. Last year's weeks say so exactly, so nothing else can be chosen.
TEST(WeekRates, AStrictRhythmIsFollowedWeekByWeek) {
  std::vector<Booking> bookings;
  for (int64_t day = kNow - kYears3 + 1; day <= kNow; ++day) {
    const int64_t week = (kNow - day) / 7;  // 0 is the last one
    const int orders = week % 4 != 0 ? 0 : (day + 3) % 7 == 0 ? 5 : (day + 3) % 7 == 1 ? 3 : 0;
    for (int i = 0; i < orders; ++i) {
      Booking b;
      b.id = bookings.size() + 1;
      b.booked = day - 1;
      b.surgery = day;
      b.start = day;
      bookings.push_back(b);
    }
  }
  const Answer answer = Ask(bookings);
  ASSERT_EQ(answer.week.method, Method::kSeasonalNaive) << answer.week.words;
  EXPECT_LT(answer.week.scores[0].loss, 1e-12);
  for (int w = 0; w < 8; ++w) {
    double orders = 0;
    for (int d = 0; d < 7; ++d) orders += answer.week.expected[static_cast<size_t>(7 * w + d)];
    // The fourth week from now is the next one; the others keep a little, as none is never sure.
    EXPECT_NEAR(orders, w % 4 == 3 ? 8 : 0, .05) << w;
  }
  // Within its week nearly all fall on Monday and Tuesday, as the calendar has it.
  EXPECT_GT(answer.week.expected[21] + answer.week.expected[22], 7);
}

TEST(WeekRates, SteadyDemandStaysWithTheCalendarModel) {
  int kept = 0;
  for (uint64_t seed = 1; seed <= 10; ++seed) {
    const Answer answer = Ask(Draw([](int) { return .8; }, seed));
    kept += answer.week.method == Method::kCalendar ? 1 : 0;
    EXPECT_EQ(answer.week.scores[0].origins, kScoredOrigins);
    EXPECT_NE(answer.week.words.find("on 13 past dates"), std::string::npos);
    EXPECT_NE(answer.week.words.find("best challenger"), std::string::npos);
  }
  EXPECT_GE(kept, 9);
}

// Better by a little is not enough to change, in either direction.
TEST(WeekRates, TheIncumbentStaysUntilAnotherIsClearlyBetter) {
  int challengers_kept = 0;
  for (uint64_t seed = 1; seed <= 5; ++seed) {
    const auto bookings = Draw([](int) { return 1.5; }, seed);
    const Answer fresh = Ask(bookings);
    if (fresh.week.method != Method::kCalendar) continue;
    double calendar = 0;
    for (const MethodScore& s : fresh.week.scores)
      if (s.method == Method::kCalendar) calendar = s.loss;
    for (const MethodScore& s : fresh.week.scores) {
      if (s.method == Method::kCalendar) continue;
      const Answer again = Ask(bookings, 0, s.method);
      const double best = fresh.week.scores[0].loss;
      if (s.loss > 1.1 * best) {
        EXPECT_NE(again.week.method, s.method) << again.week.words;
      } else if (s.loss < 1.03 * calendar) {
        EXPECT_EQ(again.week.method, s.method) << again.week.words;
        ++challengers_kept;
      }
    }
  }
  EXPECT_GE(challengers_kept, 5);
}

TEST(WeekRates, ANewBranchSaysThatNothingWasCompared) {
  const Answer answer = Ask(Draw([](int) { return 1.; }, 1, 200));
  EXPECT_EQ(answer.week.method, Method::kCalendar);
  EXPECT_TRUE(answer.week.scores.empty());
  EXPECT_EQ(answer.week.words,
            "weekly level by the calendar model, not compared with other methods: 28 weeks of "
            "history, 46 are needed");
  // From 46 weeks on there is something to compare.
  EXPECT_FALSE(Ask(Draw([](int) { return 1.; }, 1, 330)).week.scores.empty());
}

// A tenth of the branch's orders, too few to judge by, takes its share of what the branch does.
TEST(WeekRates, ARareClassGoesWithItsBranch) {
  const auto stopped = [](double rate) {
    return [rate](int ago) { return ago < 182 ? rate / 5 : rate; };
  };
  std::vector<Booking> bookings = Draw(stopped(2), 3);
  const auto few = Draw(stopped(.05), 3, kYears3, 1);
  bookings.insert(bookings.end(), few.begin(), few.end());
  ASSERT_LT(few.size(), kThinOrders);
  const Answer many = Ask(bookings, 0), rare = Ask(bookings, 1);
  EXPECT_NE(rare.week.method, Method::kCalendar);
  EXPECT_NE(rare.week.words.find("of the whole branch, as the class is rare"), std::string::npos);
  EXPECT_EQ(many.week.words.find("whole branch"), std::string::npos);
  const double share = static_cast<double>(few.size()) / static_cast<double>(bookings.size());
  EXPECT_NEAR(rare.chosen, share * (many.chosen + rare.chosen), .25);
  // Its share is known by its few orders.
  for (double v : rare.week.log_variance) EXPECT_GT(v, 1 / (static_cast<double>(few.size()) + 1));
}

TEST(WeekRates, TheBasisNamesTheNextIncumbent) {
  EXPECT_EQ(MethodIn("units out; weekly level by tsb: scaled pinball loss .1"), Method::kTsb);
  EXPECT_EQ(MethodIn("weekly level by smoothed-rate: x"), Method::kSmoothedRate);
  EXPECT_EQ(MethodIn("weekly level by smoothing"), Method::kSmoothing);
  EXPECT_EQ(MethodIn("weekly level by the calendar model, not compared"), Method::kCalendar);
  EXPECT_EQ(MethodIn("orders"), std::nullopt);
  EXPECT_EQ(MethodIn("weekly level by tea leaves"), std::nullopt);
  const Answer answer = Ask(Draw([](int ago) { return ago < 140 ? 0. : 1.; }, 1));
  EXPECT_EQ(MethodIn("some; " + answer.week.words), answer.week.method);
}

// The units in use follow: of a class of which nothing was ordered for twenty weeks hardly any is
// wanted in eight weeks, where the calendar model alone would have kept a quarter of the fleet.
TEST(WeekRates, TheUnitsInUseFollowTheChosenLevel) {
  OccupancyInput input;
  input.now = kNow;
  input.horizon = kAhead;
  input.bookings = Draw([](int ago) { return ago < 140 ? 0. : 1.; }, 2);
  const ClassOccupancy stopped = ForecastOccupancy(input)[0];
  EXPECT_NE(stopped.level_method, Method::kCalendar);
  EXPECT_NE(stopped.basis.find("weekly level by "), std::string::npos);
  EXPECT_LT(Mean(stopped.days.back().units), 1);
  EXPECT_EQ(stopped.paths.level_covariance.size(), 64u);

  // Where demand rose, the drawn truth lies within the bounds on nearly all days.
  const auto rose = [](int ago) { return ago < 182 ? 2. : .5; };
  int within = 0, days = 0;
  for (uint64_t seed = 1; seed <= 6; ++seed) {
    input.bookings = Draw(rose, seed);
    const ClassOccupancy forecast = ForecastOccupancy(input)[0];
    EXPECT_NE(forecast.level_method, Method::kCalendar);
    Random random(seed, 99);
    std::vector<int> in_use(kAhead + 30, 0);
    for (int day = -30; day <= kAhead; ++day) {
      int64_t starts = 0;
      if (day > 2)
        starts = (kNow + day - 1 + 3) % 7 < 5 ? random.Poisson(2.8) : 0;
      else
        for (const Booking& b : input.bookings) starts += b.start == kNow + day ? 1 : 0;
      for (int k = day; k < day + 22; ++k)
        if (k >= 1 && k <= kAhead) in_use[static_cast<size_t>(k)] += static_cast<int>(starts);
    }
    for (int i = 1; i <= kAhead; ++i) {
      const Pmf& units = forecast.days[static_cast<size_t>(i) - 1].units;
      const int64_t y = in_use[static_cast<size_t>(i)];
      within += Quantile(units, .025) <= y && y <= Quantile(units, .975) ? 1 : 0;
      ++days;
    }
  }
  EXPECT_GE(within, days * 85 / 100) << "of " << days;
}

}  // namespace
}  // namespace ferrule::plan
