#include "core/plan/occupancy.h"

#include <algorithm>
#include <cmath>
#include <map>

#include "absl/strings/str_cat.h"
#include "core/plan/level.h"
#include "core/plan/order_rate.h"
#include "core/plan/second_side.h"
#include "core/plan/stay_law.h"
#include "core/plan/week_rate.h"

namespace ferrule::plan {
namespace {

// Doubt about habits and lengths, as a share of the mean of orders to come.
constexpr double kModelDoubt = .03;

// Whether a booking still waits for its unit.
bool Waits(const Booking& b, int64_t now) {
  return b.changed > now && b.start > now && b.surgery > now - 22;
}

class ClassForecast {
 public:
  ClassForecast(const OccupancyInput& input, const std::vector<Booking>& known,
                const SidesOf& sides, int device_class, const BookingHabits& habits,
                const StayLaw& stays)
      : input_(input),
        known_(known),
        sides_(sides),
        class_(device_class),
        habits_(habits),
        stays_(stays),
        horizon_(static_cast<size_t>(input.horizon)) {}

  ClassOccupancy Run(const OrderRates& rates, WeekRates& weeks) {
    ClassOccupancy result;
    result.device_class = class_;
    result.days.resize(horizon_);
    chances_.resize(horizon_);
    result.paths.horizon = horizon_;
    result.known_starts.assign(horizon_, 0);
    AddOut(result);
    AddBooked(result);
    const OrderStream own = StreamOf(known_, sides_, input_.now, class_);
    const OrderRate rate = rates.Of(own);
    const auto number = static_cast<size_t>(class_);
    const WeekRate week =
        weeks.Of(class_, own, rate,
                 number < input_.incumbents.size() ? input_.incumbents[number] : Method::kCalendar);
    Orders(own, rate, week, rates.laws());
    double to_come = 0;
    for (size_t i = 0; i < horizon_; ++i) {
      OccupancyDay& day = result.days[i];
      double chance = 0, doubt = 0;
      day.to_come = ToCome(i, &chance, &doubt);
      day.units = Convolve(PoissonBinomial(chances_[i]),
                           PmfOf(CountLawOfMoments(day.to_come, chance + doubt)));
      for (double p : chances_[i]) day.known_variance += p * (1 - p);
      to_come += day.to_come;
      result.doubt += std::sqrt(doubt);
    }
    if (to_come > 0) result.doubt /= to_come;
    double orders = 0;
    for (double r : rate_) orders += r;
    result.orders_per_day = horizon_ > 0 ? orders / static_cast<double>(horizon_) : 0;
    const double seen = own.Total();
    result.history = static_cast<int64_t>(seen);
    Describe(&result);
    result.level_method = week.method;
    result.basis = absl::StrCat(
        seen < kThinOrders ? "few surgeries of this class are known: pattern, lead and lengths are "
                             "pooled over the branch and what is usual, with wide bounds; "
                           : "units out, bookings and the class's own order rate; ",
        input_.others.depot != nullptr ? "season and how demand wanders by all branches; " : "",
        week.words);
    return result;
  }

 private:
  // The laws that paths are drawn from, and what follows from the rate alone.
  void Describe(ClassOccupancy* result) {
    PathModel& model = result->paths;
    model.rate = rate_;
    model.dispersion = dispersion_;
    model.doubt = kModelDoubt;
    model.level_covariance = level_.covariance;
    model.lag = habits_.StartLag();
    std::vector<double> any;
    for (int64_t k = 0; k < 500; ++k) any.push_back(stays_.BusyAny(class_, k));
    for (double p : any) result->cycle += p;
    model.busy.insert(model.busy.begin(), std::move(any));
    result->starts = result->known_starts;
    for (size_t s = 0; s < horizon_; ++s)
      for (size_t g = 0; g < model.lag.size() && s + g < horizon_; ++g)
        result->starts[s + g] += rate_[s] * model.lag[g];
  }

  // The place of a prescription's curve among PathModel::busy, behind that of all orders.
  size_t CurveOf(PathModel* model, int prescribed_days) {
    if (prescribed_days <= 0) return 0;
    const auto [it, fresh] = curve_.try_emplace(prescribed_days, model->busy.size() + 1);
    if (fresh) {
      std::vector<double> curve;
      for (int64_t k = 0; k < 500; ++k) curve.push_back(stays_.Busy(class_, prescribed_days, k));
      model->busy.push_back(std::move(curve));
    }
    return it->second;
  }

  void Add(size_t i, double chance) { chances_[i].push_back(chance); }

  void AddOut(ClassOccupancy& result) {
    for (const Booking& b : known_) {
      if (b.device_class != class_ || b.start > input_.now || b.ready <= input_.now) continue;
      std::vector<double> still;
      for (size_t i = 0; i < horizon_; ++i) {
        const int64_t ahead = static_cast<int64_t>(i) + 1;
        const double p =
            b.returned <= input_.now
                ? stays_.StillTurning(input_.now - b.returned, ahead)
                : stays_.StillBusy(class_, b.prescribed_days, input_.now - b.start, ahead);
        Add(i, p);
        result.days[i].out += p;
        still.push_back(i == 0 ? p : std::min(p, still.back()));
      }
      result.paths.still.push_back(std::move(still));
      result.paths.still_id.push_back(b.id);
    }
  }

  void AddBooked(ClassOccupancy& result) {
    const std::vector<double>& lag = habits_.StartLag();
    for (const Booking& b : known_) {
      if (b.device_class != class_ || !Waits(b, input_.now)) continue;
      // Lags that are still possible, and how likely it is that the unit goes out at all.
      double possible = 0;
      for (size_t g = 0; g < lag.size(); ++g)
        if (b.surgery + static_cast<int64_t>(g) > input_.now) possible += lag[g];
      const double out = habits_.GoesOut();
      const double goes = habits_.Holds(std::max<int64_t>(0, b.surgery - input_.now)) * out *
                          possible / std::max(1e-12, 1 - out + out * possible);
      if (!(possible > 0)) continue;
      StandingOrder standing;
      standing.stream = b.id;
      standing.goes = goes;
      standing.curve = CurveOf(&result.paths, b.prescribed_days);
      standing.start_chance.assign(horizon_, 0);
      for (size_t g = 0; g < lag.size(); ++g) {
        const int64_t ahead = b.surgery + static_cast<int64_t>(g) - input_.now;
        if (ahead < 1 || ahead > static_cast<int64_t>(horizon_)) continue;
        standing.start_chance[static_cast<size_t>(ahead - 1)] += lag[g] / possible;
        result.known_starts[static_cast<size_t>(ahead - 1)] += goes * lag[g] / possible;
      }
      result.paths.standing.push_back(std::move(standing));
      for (size_t i = 0; i < horizon_; ++i) {
        const int64_t day = input_.now + static_cast<int64_t>(i) + 1;
        double p = 0;
        for (size_t g = 0; g < lag.size(); ++g) {
          const int64_t start = b.surgery + static_cast<int64_t>(g);
          if (start <= input_.now || start > day) continue;
          p += lag[g] * (b.prescribed_days > 0 ? stays_.Busy(class_, b.prescribed_days, day - start)
                                               : stays_.BusyAny(class_, day - start));
        }
        p *= goes / possible;
        Add(i, p);
        result.days[i].booked += p;
      }
    }
  }

  // The level and the rate of orders still to come, by day of surgery.
  void Orders(const OrderStream& own, const OrderRate& rate, const WeekRate& week,
              const std::vector<LikelyLaw>& laws) {
    const size_t past = own.counts.size(), ahead = rate.blocks_ahead;
    full_.assign(rate.expected.begin() + static_cast<std::ptrdiff_t>(past), rate.expected.end());
    std::vector<LevelBlock> blocks = BlocksOf(own, rate.expected, ahead);
    size_t past_blocks = blocks.size() - ahead;
    AddBookings(past_blocks, &blocks);
    OrderLevel level = FollowOrders(own, rate.expected, blocks, ahead, laws);
    dispersion_ = level.dispersion;
    level_ = std::move(level.level);
    if (week.method == Method::kCalendar) {
      // The calendar's own doubt goes with the level's: both are of whole weeks.
      for (size_t k = 0; k < level_.covariance.size(); ++k)
        level_.covariance[k] += rate.covariance[k];
    } else {
      full_ = week.expected;
      blocks.assign(ahead, {});
      past_blocks = 0;
      AddBookings(0, &blocks);
      level_ = LevelAround(blocks, week.log_variance, dispersion_);
    }
    std::vector<double> coming(horizon_);
    for (size_t i = 0; i < horizon_; ++i)
      coming[i] = full_[i] * level_.Mean(past_blocks + i / kDaysPerBlock);
    const std::vector<double> second = SecondSides(own, coming);
    rate_.assign(horizon_, 0);
    for (size_t i = 0; i < horizon_; ++i) {
      const double rest = 1 - habits_.BookedBy(class_, static_cast<int64_t>(i) + 1);
      rate_[i] = (coming[i] + second[i]) * rest * habits_.GoesOut() *
                 (i < input_.demand.size() ? input_.demand[i] : 1);
    }
  }

  // What is booked already of the coming weeks, the first one blocks[first], and how much of it was
  // to be expected.
  void AddBookings(size_t first, std::vector<LevelBlock>* blocks) const {
    // Below a tenth the share booked says nothing about the level.
    constexpr double kTells = .1;
    for (size_t i = 0; i < horizon_; ++i) {
      const double by = habits_.BookedBy(class_, static_cast<int64_t>(i) + 1);
      if (by > kTells) (*blocks)[first + i / kDaysPerBlock].expected += full_[i] * by;
    }
    for (size_t k = 0; k < known_.size(); ++k) {
      const Booking& b = known_[k];
      const int64_t ahead = b.surgery - input_.now;
      if (sides_.is_second[k] != 0 || b.device_class != class_ || b.changed <= input_.now ||
          ahead < 1 || ahead > static_cast<int64_t>(horizon_) ||
          habits_.BookedBy(class_, ahead) <= kTells)
        continue;
      (*blocks)[first + static_cast<size_t>(ahead - 1) / kDaysPerBlock].counted +=
          habits_.Holds(ahead);
    }
  }

  // Second sides by day of surgery, booked or not, of the first sides that were done and of those
  // that are `coming`.
  std::vector<double> SecondSides(const OrderStream& own, std::vector<double> coming) const {
    const std::vector<FirstSide>& first = sides_.first[static_cast<size_t>(class_)];
    if (first.empty()) return std::vector<double>(horizon_, 0);
    const SecondSideLaw law(first, input_.now);
    std::vector<double> second = law.Expected(first, input_.now, input_.horizon);
    // Not all that comes is a first side of somebody known.
    double known = 0;
    for (const FirstSide& side : first) known += side.done >= own.first ? 1 : 0;
    const double share = std::min(1.0, known / std::max(own.Total(), 1.0));
    for (double& c : coming) c *= share;
    const std::vector<double> later = law.OfComing(coming);
    for (size_t i = 0; i < horizon_; ++i) second[i] += later[i];
    return second;
  }

  // Mean units of orders still to come; the variance that chance gives them, and that of the mean,
  // as the level and the laws are in doubt.
  double ToCome(size_t i, double* chance, double* doubt) const {
    const std::vector<double>& lag = habits_.StartLag();
    std::vector<double> by_block(level_.kept, 0);
    double mean = 0, noise = 0;
    for (size_t s = 0; s <= i; ++s) {
      double busy = 0;
      for (size_t g = 0; g < lag.size() && s + g <= i; ++g)
        busy += lag[g] * stays_.BusyAny(class_, static_cast<int64_t>(i - s - g));
      const double part = rate_[s] * busy;
      mean += part;
      by_block[s / kDaysPerBlock] += part;
      noise += (dispersion_ - 1) * part * part / std::max(full_[s], 1e-9);
    }
    *chance = mean + noise;
    *doubt = kModelDoubt * kModelDoubt * mean * mean;
    for (size_t a = 0; a < by_block.size(); ++a)
      for (size_t b = 0; b < by_block.size(); ++b)
        *doubt += by_block[a] * by_block[b] * std::expm1(level_.Covariance(a, b));
    *doubt = std::max(*doubt, 0.0);
    return mean;
  }

  const OccupancyInput& input_;
  const std::vector<Booking>& known_;
  const SidesOf& sides_;
  const int class_;
  const BookingHabits& habits_;
  const StayLaw& stays_;
  const size_t horizon_;
  std::vector<std::vector<double>> chances_;
  std::map<int, size_t> curve_;
  std::vector<double> rate_, full_;
  Level level_;
  double dispersion_ = 1;
};

}  // namespace

int ClassesOf(const OccupancyInput& input, const std::vector<Booking>& known) {
  int classes = std::max(1, input.classes);
  for (const Booking& b : known) classes = std::max(classes, b.device_class + 1);
  return classes;
}

std::vector<ClassOccupancy> ForecastOccupancy(const OccupancyInput& input) {
  OccupancyInput asked = input;
  asked.horizon = std::clamp(input.horizon, 1, 365);
  const std::vector<Booking> known = KnownAt(input.bookings, input.now);
  const BookingHabits habits(known, input.now);
  const StayLaw stays(known, input.now, input.stays);
  const int classes = ClassesOf(input, known);
  const SidesOf sides = TellSides(known, input.now, classes);
  const OrderRates rates(StreamOf(known, sides, input.now, -1), input.holidays, asked.horizon,
                         input.others);
  WeekRates weeks(known, sides, input.holidays, input.now, rates, input.others);
  std::vector<ClassOccupancy> result;
  for (int c = 0; c < classes; ++c)
    result.push_back(ClassForecast(asked, known, sides, c, habits, stays).Run(rates, weeks));
  return result;
}

StockOut RiskOf(const ClassOccupancy& occupancy, int64_t units) {
  StockOut risk;
  for (size_t i = 0; i < occupancy.days.size(); ++i) {
    const double p = Tail(occupancy.days[i].units, units);
    risk.short_on_day.push_back(p);
    risk.unit_days_short += ExpectedShortage(occupancy.days[i].units, units);
    if (p > risk.worst) risk.worst = p, risk.worst_day = static_cast<int>(i) + 1;
  }
  return risk;
}

int64_t UnitsForRisk(const ClassOccupancy& occupancy, double risk) {
  int64_t units = 0;
  for (const OccupancyDay& day : occupancy.days)
    units = std::max(units, Quantile(day.units, 1 - risk));
  return units;
}

}  // namespace ferrule::plan
