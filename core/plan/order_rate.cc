#include "core/plan/order_rate.h"

#include <algorithm>
#include <cmath>
#include <numbers>
#include <numeric>
#include <utility>

#include "core/plan/distributions.h"

namespace ferrule::plan {
namespace {

// Days of surgeries that the calendar is learned from at least, and at most where the level has
// stood still; they are told apart year by year.
constexpr int64_t kWindow = 1095;
constexpr int64_t kLongestWindow = 3650;
constexpr int64_t kYear = 365;
// Chance by which a year of the same level is taken for one of another.
constexpr double kMovedByChance = .01;
// Orders from which a season, a finer one and growth, and a finer one still are fitted.
constexpr double kSomeOrders = 200;
constexpr double kManyOrders = 1000;
constexpr double kMostOrders = 4000;
// Yearly log effects of planned surgery are modest: the months of 8.3 million hip and knee
// replacements lie within a tenth of their mean but for December (pubmed 35669461), day-surgery
// centres rose by 38 % from January to December (PMC7937670).
constexpr double kSurgerySeason = .1;
// How far branches, and the classes of a branch, differ in season and in yearly growth: design
// default.
constexpr double kOwnSeason = .05;
constexpr double kOwnGrowth = .05;
// Days from which a season can be told from growth.
constexpr size_t kSeasonDays = 400;

CalendarShape ShapeOf(const OrderStream& stream, size_t blank, const std::vector<int64_t>& holidays,
                      size_t horizon) {
  CalendarShape shape;
  shape.first_day = stream.first;
  shape.daily = true;
  const size_t steps = stream.counts.size() + horizon, days = stream.counts.size() - blank;
  // Few orders do not tell a season, and carried half a year ahead, a growth that chance made is
  // worse than none.
  const double orders = stream.Total();
  const bool some = orders >= kSomeOrders, many = orders >= kManyOrders;
  if (days < kSeasonDays || !some) shape.steps_per_year = 0;
  shape.harmonics = orders >= kMostOrders ? 3 : many ? 2 : 1;
  shape.yearly_sd = kSurgerySeason;
  shape.growth = days >= kSeasonDays && many;
  shape.holiday.assign(steps + 1, 0);
  for (int64_t day : holidays)
    if (day >= stream.first && day - stream.first < static_cast<int64_t>(shape.holiday.size()))
      shape.holiday[static_cast<size_t>(day - stream.first)] = 1;
  return shape;
}

// Variance over mean of the sums that tell a season: a level that wanders adds, at the frequency
// of a year, the spectral density of its autoregression to the noise of the counts.
double SlowDispersion(const OrderStream& stream, const std::vector<double>& expected,
                      const std::vector<LikelyLaw>& laws) {
  const std::vector<LevelBlock> blocks = BlocksOf(stream, expected, 0);
  if (blocks.size() < 8) return 1;
  const LevelLaw law = LikeliestLaw(blocks, 1, laws);
  double mean = 0;
  for (const LevelBlock& block : blocks)
    mean += block.expected / static_cast<double>(blocks.size());
  const double turn = 2 * std::numbers::pi * kDaysPerBlock / 365.25, phi = law.persistence;
  return 1 + mean * law.step * law.step / (1 - 2 * phi * std::cos(turn) + phi * phi);
}

// How much surer the effects that move slowly are none, by what makes the orders likeliest: for
// most small branches no season can be told, and following one that chance made costs units. The
// level's wandering scatters what tells them, so all counts weigh by it here.
CalendarDoubt DoubtOf(const CalendarModel& model, double dispersion) {
  CalendarDoubt doubt;
  double best = model.LogEvidence(doubt, dispersion);
  for (double CalendarDoubt::*kind :
       {&CalendarDoubt::growth, &CalendarDoubt::fine_season, &CalendarDoubt::season}) {
    for (double surer : {25.0, 625.0}) {
      CalendarDoubt trial = doubt;
      trial.*kind = surer;
      const double likely = model.LogEvidence(trial, dispersion);
      if (!(likely > best)) break;
      doubt = trial;
      best = likely;
    }
  }
  return doubt;
}

// Expected counts of all steps.
std::vector<double> AllOf(const CalendarModel& model, size_t steps) {
  std::vector<double> expected(steps);
  for (size_t t = 0; t < steps; ++t) expected[t] = std::max(model.Expected(t).count, 1e-6);
  return expected;
}

// Variance of the logarithm of a rate of which nothing was seen: a gamma law of shape one half,
// Jeffreys' prior of a Poisson rate, has trigamma(1/2).
constexpr double kNothingSeen = std::numbers::pi * std::numbers::pi / 2;

// What the model doubts, but never more than with nothing seen at all: where orders are very few
// its variance, a quadratic's about the best fit, knows no bound.
void AddDoubt(const CalendarModel& model, size_t past, OrderRate* rate) {
  const auto middle = [&](size_t block) {
    return std::min(past + block * kDaysPerBlock + kDaysPerBlock / 2, rate->expected.size() - 1);
  };
  for (size_t a = 0; a < rate->blocks_ahead; ++a)
    for (size_t b = 0; b < rate->blocks_ahead; ++b)
      rate->covariance[a * rate->blocks_ahead + b] = model.LogCovariance(middle(a), middle(b));
  double most = 0;
  for (size_t a = 0; a < rate->blocks_ahead; ++a)
    most = std::max(most, rate->covariance[a * (rate->blocks_ahead + 1)]);
  if (most > kNothingSeen)
    for (double& c : rate->covariance) c *= kNothingSeen / most;
}

}  // namespace

double OrderStream::Total() const { return std::accumulate(counts.begin(), counts.end(), 0.0); }

double OrderStream::At(int64_t day) const {
  const int64_t at = day - first;
  return at >= 0 && at < static_cast<int64_t>(counts.size()) ? counts[static_cast<size_t>(at)] : 0;
}

namespace {

// Of the surgeries of the first days on record those booked before the records began are missing:
// counted, they would tell of growth. The stream begins when nearly all leads are covered, but a
// young branch keeps most of its days.
int64_t FirstWholeDay(const std::vector<Booking>& known, int64_t now) {
  constexpr double kCovered = .95, kMostLeftOut = .25;
  int64_t begin = now, first = now;
  std::vector<int64_t> leads;
  for (const Booking& b : known) {
    begin = std::min(begin, b.booked);
    if (b.surgery > now) continue;
    first = std::min(first, b.surgery);
    if (b.surgery > now - 365) leads.push_back(b.surgery - b.booked);
  }
  if (leads.empty()) return first;
  const auto at =
      leads.begin() + static_cast<std::ptrdiff_t>(kCovered * static_cast<double>(leads.size() - 1));
  std::nth_element(leads.begin(), at, leads.end());
  const auto most = static_cast<int64_t>(kMostLeftOut * static_cast<double>(now - begin));
  return std::max(first, begin + std::min(*at, most));
}

// Whether a surgery is one of the stream: done by now or refused, and no second side.
bool Counts(const Booking& b, bool is_second, int64_t now) {
  return !is_second && (b.changed > now || b.refused) && b.surgery <= now;
}

// Whether the orders of `days` before a window of `later` days are surely of another level than its
// own: Pearson's chi-square over the classes, for counts beside counts.
bool Moved(const std::vector<double>& before, double days, const std::vector<double>& window,
           double later) {
  double sum = 0, classes = 0;
  for (size_t c = 0; c < before.size(); ++c) {
    const double all = before[c] + window[c];
    if (!(all > 0)) continue;
    const double share = days / (days + later), off = before[c] - share * all;
    sum += off * off / (share * (1 - share) * all);
    ++classes;
  }
  return classes > 0 && 1 - GammaCdf(sum, classes / 2, 2) < kMovedByChance;
}

// From the first whole day on, or from the first of the years back to which no level has moved.
int64_t FirstDay(const std::vector<Booking>& known, const SidesOf& sides, int64_t now) {
  const int64_t first = std::max(FirstWholeDay(known, now), now - kLongestWindow + 1);
  int64_t begin = std::max(first, now - kWindow + 1);
  if (begin == first) return first;
  constexpr size_t kYears = kLongestWindow / kYear;
  size_t classes = sides.first.size();
  for (const Booking& b : known)
    classes = std::max(classes, static_cast<size_t>(b.device_class) + 1);
  std::vector<std::vector<double>> years(kYears, std::vector<double>(classes, 0));
  for (size_t i = 0; i < known.size(); ++i) {
    const Booking& b = known[i];
    if (!Counts(b, sides.is_second[i] != 0, now) || b.surgery < first) continue;
    years[static_cast<size_t>((now - b.surgery) / kYear)][static_cast<size_t>(b.device_class)] += 1;
  }
  std::vector<double> window(classes, 0);
  for (size_t year = 0; year < kYears; ++year) {
    const int64_t last = now - static_cast<int64_t>(year) * kYear;  // of the year
    if (last <= first) break;
    if (last < begin) {
      const int64_t days = std::min(kYear, last - first + 1);
      if (Moved(years[year], static_cast<double>(days), window, static_cast<double>(now - last)))
        break;
      begin = last - days + 1;
    }
    for (size_t c = 0; c < window.size(); ++c) window[c] += years[year][c];
  }
  return begin;
}

}  // namespace

OrderStream StreamOf(const std::vector<Booking>& known, const SidesOf& sides, int64_t now,
                     int device_class) {
  OrderStream stream;
  stream.first = FirstDay(known, sides, now);
  stream.counts.assign(static_cast<size_t>(now - stream.first + 1), 0);
  for (size_t i = 0; i < known.size(); ++i) {
    const Booking& b = known[i];
    if (!Counts(b, sides.is_second[i] != 0, now) || b.surgery < stream.first) continue;
    if (device_class >= 0 && b.device_class != device_class) continue;
    stream.counts[static_cast<size_t>(b.surgery - stream.first)] += 1;
  }
  return stream;
}

std::vector<LevelBlock> BlocksOf(const OrderStream& stream, const std::vector<double>& expected,
                                 size_t blocks_ahead) {
  const size_t past = stream.counts.size();
  const size_t past_blocks = std::min(past / kDaysPerBlock, kMostBlocks);
  std::vector<LevelBlock> blocks(past_blocks + blocks_ahead);
  const size_t start = past - past_blocks * kDaysPerBlock;
  for (size_t t = start; t < past; ++t) {
    LevelBlock& block = blocks[(t - start) / kDaysPerBlock];
    block.counted += stream.counts[t];
    block.expected += expected[t];
  }
  return blocks;
}

OrderLevel FollowOrders(const OrderStream& stream, const std::vector<double>& expected,
                        const std::vector<LevelBlock>& blocks, size_t blocks_ahead,
                        const std::vector<LikelyLaw>& laws) {
  OrderLevel result{FitLevel(blocks, 1, blocks_ahead, laws), 1};
  const size_t past = stream.counts.size();
  const size_t start = past - (blocks.size() - blocks_ahead) * kDaysPerBlock;
  double squares = 10, seen = 10;
  for (size_t t = start; t < past; ++t) {
    const double mean = expected[t] * std::exp(result.level.log_mean[(t - start) / kDaysPerBlock]);
    squares += (stream.counts[t] - mean) * (stream.counts[t] - mean) / std::max(mean, .02);
    seen += 1;
  }
  result.dispersion = std::max(1.0, squares / seen);
  if (result.dispersion > 1.1)
    result.level = FitLevel(blocks, result.dispersion, blocks_ahead, laws);
  return result;
}

namespace {

// Of a stream by itself, its first `blank` days left out.
OrderPattern PatternAlone(const OrderStream& stream, size_t blank, size_t horizon,
                          const std::vector<int64_t>& holidays,
                          const std::vector<LikelyLaw>& laws) {
  const size_t past = stream.counts.size(), steps = past + horizon;
  OrderPattern pattern{ShapeOf(stream, blank, holidays, horizon), {}, 0, 0};
  OrderRate& rate = pattern.rate;
  rate.blocks_ahead = (horizon + kDaysPerBlock - 1) / kDaysPerBlock;
  rate.expected.assign(steps, .01);
  rate.steady = rate.expected;
  rate.covariance.assign(rate.blocks_ahead * rate.blocks_ahead, 0);
  std::vector<double> exposure;
  if (blank > 0) {
    exposure.assign(past, 1);
    std::fill_n(exposure.begin(), blank, 0);
  }
  auto model = CalendarModel::Fit(pattern.shape, stream.counts, exposure, past);
  if (!model.ok()) return pattern;
  const auto from = static_cast<std::ptrdiff_t>(blank);
  const std::vector<double> expected = AllOf(*model, steps);
  pattern.shape.slow_dispersion =
      SlowDispersion({stream.first + from, {stream.counts.begin() + from, stream.counts.end()}},
                     {expected.begin() + from, expected.end()}, laws);
  pattern.shape.doubt = DoubtOf(*model, pattern.shape.slow_dispersion);
  model = CalendarModel::Fit(pattern.shape, stream.counts, exposure, past, &*model);
  if (!model.ok()) return pattern;
  for (size_t t = 0; t < steps; ++t) {
    const CalendarModel::Mean mean = model->Expected(t);
    rate.expected[t] = std::max(mean.count, 1e-6);
    rate.steady[t] = std::max(mean.steady, 1e-6);
  }
  AddDoubt(*model, past, &rate);
  pattern.season_variance = model->SeasonVariance();
  pattern.growth_variance = model->GrowthVariance();
  return pattern;
}

// Of a part of what `pattern` is of. A branch has its own weekdays and holidays, a class those of
// its branch but for what its orders surely show.
OrderPattern PatternOfPart(OrderPattern pattern, const OrderStream& own, bool is_branch,
                           const std::vector<LikelyLaw>& laws) {
  OrderRate& rate = pattern.rate;
  const size_t past = own.counts.size();
  double sum = 0;
  for (size_t t = 0; t < past; ++t) sum += rate.expected[t];
  const double share = (own.Total() + .5) / (sum + .5);
  for (size_t t = 0; t < rate.expected.size(); ++t)
    rate.expected[t] *= share, rate.steady[t] *= share;
  // The own pattern differs from that of the whole as far as the whole's is in doubt and as parts
  // differ.
  CalendarShape& shape = pattern.shape;
  shape.pooled = !is_branch;
  shape.yearly_sd = std::sqrt(kOwnSeason * kOwnSeason + pattern.season_variance);
  shape.growth_sd = std::sqrt(kOwnGrowth * kOwnGrowth + pattern.growth_variance);
  shape.slow_dispersion = SlowDispersion(own, rate.expected, laws);
  const std::vector<double> exposure(rate.expected.begin(),
                                     rate.expected.begin() + static_cast<std::ptrdiff_t>(past));
  const auto model = CalendarModel::Fit(shape, own.counts, exposure, past);
  if (!model.ok()) return pattern;
  for (size_t t = 0; t < rate.expected.size(); ++t) {
    const CalendarModel::Mean mean = model->Expected(t);
    rate.expected[t] *= mean.count;
    rate.steady[t] *= mean.steady;
  }
  AddDoubt(*model, past, &rate);
  pattern.season_variance = model->SeasonVariance();
  pattern.growth_variance = model->GrowthVariance();
  return pattern;
}

// The same from a later day on.
OrderPattern Since(OrderPattern pattern, int64_t day) {
  const std::ptrdiff_t days = day - pattern.shape.first_day;
  pattern.shape.first_day = day;
  for (std::vector<double>* list : {&pattern.rate.expected, &pattern.rate.steady})
    list->erase(list->begin(), list->begin() + days);
  pattern.shape.holiday.erase(pattern.shape.holiday.begin(), pattern.shape.holiday.begin() + days);
  return pattern;
}

}  // namespace

DepotOrders::DepotOrders(OrderStream orders, LawEvidence wandering)
    : orders_(std::move(orders)), laws_(UsualLaws(wandering)) {}

OrderPattern DepotOrders::PatternOf(int64_t first, int64_t last, size_t horizon,
                                    const std::vector<int64_t>& holidays) {
  const int64_t begin = std::min(first, orders_.first);
  const auto [it, fresh] = kept_.try_emplace({begin, last, horizon, holidays});
  if (fresh) {
    OrderStream all{begin, {}};
    for (int64_t day = begin; day <= last; ++day) all.counts.push_back(orders_.At(day));
    const auto blank = static_cast<size_t>(std::min(orders_.first, last + 1) - begin);
    it->second = PatternAlone(all, blank, horizon, holidays, laws_);
  }
  return Since(it->second, first);
}

OrderRates::OrderRates(const OrderStream& branch, const std::vector<int64_t>& holidays,
                       int64_t horizon, const OtherBranches& others)
    : branch_(branch), laws_(UsualLaws(others.wandering)) {
  const auto steps = static_cast<size_t>(horizon);
  if (others.depot == nullptr) {
    pattern_ = PatternAlone(branch, 0, steps, holidays, laws_);
    return;
  }
  const int64_t last = branch.first + static_cast<int64_t>(branch.counts.size()) - 1;
  pattern_ = PatternOfPart(others.depot->PatternOf(branch.first, last, steps, holidays), branch,
                           true, laws_);
}

OrderRate OrderRates::Of(const OrderStream& own) const {
  return own.counts == branch_.counts ? pattern_.rate
                                      : PatternOfPart(pattern_, own, false, laws_).rate;
}

}  // namespace ferrule::plan
