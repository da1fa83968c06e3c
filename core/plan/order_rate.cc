#include "core/plan/order_rate.h"

#include <algorithm>
#include <cmath>
#include <limits>
#include <numbers>
#include <numeric>

namespace ferrule::plan {
namespace {

constexpr int64_t kWindow = 1095;  // days of surgeries that the calendar is learned from
// Orders of a branch from which its season, and from which a finer season and growth are fitted.
constexpr double kSomeOrders = 200;
constexpr double kManyOrders = 1000;
// Yearly log effects of planned surgery are modest: the months of 8.3 million hip and knee
// replacements lie within a tenth of their mean but for December (pubmed 35669461), day-surgery
// centres rose by 38 % from January to December (PMC7937670).
constexpr double kSurgerySeason = .1;
// How far the classes of a branch differ in season and in yearly growth: design default.
constexpr double kOwnSeason = .05;
constexpr double kOwnGrowth = .05;
// Days from which a season can be told from growth.
constexpr size_t kSeasonDays = 400;

CalendarShape ShapeOf(const OrderStream& stream, const std::vector<int64_t>& holidays,
                      size_t horizon) {
  CalendarShape shape;
  shape.first_day = stream.first;
  shape.daily = true;
  const size_t steps = stream.counts.size() + horizon;
  // Few orders do not tell a season, and carried half a year ahead, a growth that chance made is
  // worse than none.
  const double orders = stream.Total();
  const bool some = orders >= kSomeOrders, many = orders >= kManyOrders;
  if (stream.counts.size() < kSeasonDays || !some) shape.steps_per_year = 0;
  shape.harmonics = many ? 2 : 1;
  shape.yearly_sd = kSurgerySeason;
  shape.growth = stream.counts.size() >= kSeasonDays && many;
  shape.holiday.assign(steps + 1, 0);
  for (int64_t day : holidays)
    if (day >= stream.first && day - stream.first < static_cast<int64_t>(shape.holiday.size()))
      shape.holiday[static_cast<size_t>(day - stream.first)] = 1;
  return shape;
}

// Variance over mean of the sums that tell a season: a level that wanders adds, at the frequency
// of a year, the spectral density of its autoregression to the noise of the counts.
double SlowDispersion(const OrderStream& stream, const std::vector<double>& expected) {
  const std::vector<LevelBlock> blocks = BlocksOf(stream, expected, 0);
  if (blocks.size() < 8) return 1;
  const LevelLaw law = FitLevel(blocks, 1, 0).law;
  double mean = 0;
  for (const LevelBlock& block : blocks)
    mean += block.expected / static_cast<double>(blocks.size());
  const double turn = 2 * std::numbers::pi * kDaysPerBlock / 365.25, phi = law.persistence;
  return 1 + mean * law.step * law.step / (1 - 2 * phi * std::cos(turn) + phi * phi);
}

// How much surer the effects that move slowly are none, by what makes the orders likeliest: for
// most small branches no season can be told, and following one that chance made costs units. The
// level's wandering scatters what tells them, so all counts weigh by it here.
CalendarDoubt DoubtOf(CalendarShape shape, const std::vector<double>& counts,
                      const CalendarModel& near) {
  shape.dispersion = shape.slow_dispersion;
  shape.slow_dispersion = 1;
  absl::StatusOr<CalendarModel> last = absl::UnknownError("none yet");
  const auto evidence = [&] {
    last = CalendarModel::Fit(shape, counts, {}, counts.size(), last.ok() ? &*last : &near);
    return last.ok() ? last->LogEvidence() : -std::numeric_limits<double>::infinity();
  };
  double best = evidence();
  for (double CalendarDoubt::*kind : {&CalendarDoubt::growth, &CalendarDoubt::season}) {
    for (double surer : {25.0, 625.0}) {
      const double before = shape.doubt.*kind;
      shape.doubt.*kind = surer;
      const double likely = evidence();
      if (!(likely > best)) {
        shape.doubt.*kind = before;
        break;
      }
      best = likely;
    }
  }
  return shape.doubt;
}

// Expected counts of all steps.
std::vector<double> AllOf(const CalendarModel& model, size_t steps) {
  std::vector<double> expected(steps);
  for (size_t t = 0; t < steps; ++t) expected[t] = std::max(model.Expected(t), 1e-6);
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

}  // namespace

OrderStream StreamOf(const std::vector<Booking>& known, const SidesOf& sides, int64_t now,
                     int device_class) {
  OrderStream stream;
  stream.first = std::max(FirstWholeDay(known, now), now - kWindow + 1);
  stream.counts.assign(static_cast<size_t>(now - stream.first + 1), 0);
  for (size_t i = 0; i < known.size(); ++i) {
    const Booking& b = known[i];
    if (sides.is_second[i] != 0) continue;
    if ((b.changed <= now && !b.refused) || b.surgery > now || b.surgery < stream.first) continue;
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
                        const std::vector<LevelBlock>& blocks, size_t blocks_ahead) {
  OrderLevel result{FitLevel(blocks, 1, blocks_ahead), 1};
  const size_t past = stream.counts.size();
  const size_t start = past - (blocks.size() - blocks_ahead) * kDaysPerBlock;
  double squares = 10, seen = 10;
  for (size_t t = start; t < past; ++t) {
    const double mean = expected[t] * std::exp(result.level.log_mean[(t - start) / kDaysPerBlock]);
    squares += (stream.counts[t] - mean) * (stream.counts[t] - mean) / std::max(mean, .02);
    seen += 1;
  }
  result.dispersion = std::max(1.0, squares / seen);
  if (result.dispersion > 1.1) result.level = FitLevel(blocks, result.dispersion, blocks_ahead);
  return result;
}

OrderRates::OrderRates(const OrderStream& branch, const std::vector<int64_t>& holidays,
                       int64_t horizon)
    : branch_(branch),
      shape_(ShapeOf(branch, holidays, static_cast<size_t>(horizon))),
      horizon_(static_cast<size_t>(horizon)) {
  const size_t past = branch.counts.size(), steps = past + horizon_;
  pattern_.blocks_ahead = (horizon_ + kDaysPerBlock - 1) / kDaysPerBlock;
  pattern_.expected.assign(steps, .01);
  pattern_.steady = pattern_.expected;
  pattern_.covariance.assign(pattern_.blocks_ahead * pattern_.blocks_ahead, 0);
  auto model = CalendarModel::Fit(shape_, branch.counts, {}, past);
  if (!model.ok()) return;
  shape_.slow_dispersion = SlowDispersion(branch, AllOf(*model, steps));
  shape_.doubt = DoubtOf(shape_, branch.counts, *model);
  model = CalendarModel::Fit(shape_, branch.counts, {}, past, &*model);
  if (!model.ok()) return;
  pattern_.expected = AllOf(*model, steps);
  for (size_t t = 0; t < steps; ++t) pattern_.steady[t] = std::max(model->Steady(t), 1e-6);
  AddDoubt(*model, past, &pattern_);
  season_variance_ = model->SeasonVariance();
  growth_variance_ = model->GrowthVariance();
}

OrderRate OrderRates::Of(const OrderStream& own) const {
  OrderRate rate = pattern_;
  const double orders = own.Total();
  if (own.counts == branch_.counts) return rate;
  const size_t past = own.counts.size();
  double branch = 0;
  for (size_t t = 0; t < past; ++t) branch += rate.expected[t];
  const double share = (orders + .5) / (branch + .5);
  for (size_t t = 0; t < rate.expected.size(); ++t)
    rate.expected[t] *= share, rate.steady[t] *= share;
  // The class's own pattern differs from the branch's as far as the branch's is in doubt and as
  // classes differ.
  CalendarShape shape = shape_;
  shape.pooled = true;
  shape.yearly_sd = std::sqrt(kOwnSeason * kOwnSeason + season_variance_);
  shape.growth_sd = std::sqrt(kOwnGrowth * kOwnGrowth + growth_variance_);
  shape.slow_dispersion = SlowDispersion(own, rate.expected);
  const std::vector<double> exposure(rate.expected.begin(),
                                     rate.expected.begin() + static_cast<std::ptrdiff_t>(past));
  const auto model = CalendarModel::Fit(shape, own.counts, exposure, past);
  if (!model.ok()) return rate;
  for (size_t t = 0; t < rate.expected.size(); ++t) {
    rate.expected[t] *= model->Expected(t);
    rate.steady[t] *= model->Steady(t);
  }
  AddDoubt(*model, past, &rate);
  return rate;
}

}  // namespace ferrule::plan
