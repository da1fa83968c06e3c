#include "core/plan/calendar.h"

#include <algorithm>
#include <cmath>
#include <numbers>
#include <utility>

#include "core/plan/baseline.h"
#include "core/plan/distributions.h"
#include "core/plan/symmetric.h"

namespace ferrule::plan {
namespace {

// Prior precisions 1 / sd^2 of log effects: how large an effect may be before data support it.
constexpr double kFree = 1e-4;         // intercept
constexpr double kWeekend = .25;       // sd 2
constexpr double kWeekday = 4;         // sd .5
constexpr double kCycle = 4;           // sd .5
constexpr double kHoliday = .25;       // sd 2
constexpr double kOneHoliday = 4;      // sd .5
constexpr double kNextToHoliday = 25;  // sd .2
constexpr double kPooledDay = 40;      // sd .16, of a weekday or holiday in pooled shapes

int HolidayAt(const CalendarShape& s, int64_t step) {
  return step >= 0 && step < static_cast<int64_t>(s.holiday.size())
             ? s.holiday[static_cast<size_t>(step)]
             : 0;
}

int HolidayKinds(const CalendarShape& s) {
  int most = 0;
  for (int h : s.holiday) most = std::max(most, h);
  return most;
}

double YearFraction(const CalendarShape& s, size_t step) {
  const double place = s.daily ? static_cast<double>(s.first_day + static_cast<int64_t>(step))
                               : static_cast<double>(step);
  return place / s.steps_per_year;
}

// Where the columns of a row are; a row is intercept, weekdays, season, cycle, growth, holidays.
struct Columns {
  size_t season = 0, growth = 0, all = 0;
};

Columns ColumnsOf(const CalendarShape& s) {
  Columns c;
  c.season = 1 + (s.daily ? 6 : 0);
  c.growth = c.season + (s.steps_per_year > 0 ? 2 * static_cast<size_t>(s.harmonics) : 0) +
             (s.cycle > 1 ? static_cast<size_t>(s.cycle) - 1 : 0);
  c.all = c.growth + (s.growth ? 1 : 0);
  if (const int kinds = HolidayKinds(s); kinds > 0)
    c.all += 3 + (kinds > 1 ? static_cast<size_t>(kinds) : 0);
  return c;
}

// Whether each column moves slowly, so that a wandering level is taken for it.
std::vector<char> SlowColumns(const CalendarShape& s) {
  const Columns c = ColumnsOf(s);
  std::vector<char> slow(c.all, 0);
  slow[0] = 1;
  if (s.growth) slow[c.growth] = 1;
  for (int i = 0; s.steps_per_year > 0 && i < 2 * s.harmonics; ++i)
    slow[c.season + static_cast<size_t>(i)] = 1;
  return slow;
}

std::vector<double> Penalties(const CalendarShape& s, double scale) {
  const auto least = [&](double precision) {
    return s.pooled ? std::max(precision, kPooledDay) : precision;
  };
  std::vector<double> p = {kFree};
  const auto add = [&](int count, double precision, double surer) {
    p.insert(p.end(), static_cast<size_t>(count), precision * surer);
  };
  if (s.daily) {
    add(1, least(kWeekend), s.doubt.weekday);
    add(5, least(kWeekday), s.doubt.weekday);
  }
  // A year's course is smooth: from the third harmonic on, the faster the smaller.
  for (int k = 1; s.steps_per_year > 0 && k <= s.harmonics; ++k)
    add(2, std::max(1.0, .25 * k * k) / (s.yearly_sd * s.yearly_sd),
        s.doubt.season * (k > 1 ? s.doubt.fine_season : 1));
  if (s.cycle > 1) add(s.cycle - 1, kCycle, s.doubt.season);
  if (s.growth) add(1, 1 / (s.growth_sd * s.growth_sd), s.doubt.growth);
  if (const int kinds = HolidayKinds(s); kinds > 0) {
    add(1, least(kHoliday), s.doubt.holiday);
    add(2, least(kNextToHoliday), s.doubt.holiday);
    if (kinds > 1) add(kinds, least(kOneHoliday), s.doubt.holiday);
  }
  const std::vector<char> slow = SlowColumns(s);
  for (size_t j = 0; j < p.size(); ++j) p[j] *= scale * (slow[j] != 0 ? s.slow_dispersion : 1);
  return p;
}

// `kinds` of holidays: counted once, not for each row.
void AddRow(const CalendarShape& s, int kinds, size_t step, double last, std::vector<double>& row) {
  row.push_back(1);
  if (s.daily) {
    const int weekday = Weekday(s.first_day + static_cast<int64_t>(step));
    row.push_back(weekday >= 5 ? 1 : 0);  // the weekend first: it differs most
    for (int d = 1; d < 5; ++d) row.push_back(d == weekday ? 1 : 0);
    row.push_back(weekday == 6 ? 1 : 0);
  }
  if (s.steps_per_year > 0) {
    const double angle = 2 * std::numbers::pi * YearFraction(s, step);
    for (int k = 1; k <= s.harmonics; ++k) {
      row.push_back(std::sin(k * angle));
      row.push_back(std::cos(k * angle));
    }
  }
  for (int c = 1; c < s.cycle; ++c) row.push_back(static_cast<int>(step) % s.cycle == c ? 1 : 0);
  if (s.growth) {
    const double per_year = s.steps_per_year > 0 ? s.steps_per_year : s.cycle > 1 ? s.cycle : 52;
    // Growth does not go on beyond half a year from now.
    const double years = (static_cast<double>(step) - last) / per_year;
    row.push_back(std::min(years, .5));
  }
  if (kinds > 0) {
    const int64_t t = static_cast<int64_t>(step);
    const int here = HolidayAt(s, t);
    row.push_back(here > 0 ? 1 : 0);
    row.push_back(here == 0 && HolidayAt(s, t + 1) > 0 ? 1 : 0);
    row.push_back(here == 0 && HolidayAt(s, t - 1) > 0 ? 1 : 0);
    for (int k = 1; kinds > 1 && k <= kinds; ++k) row.push_back(here == k ? 1 : 0);
  }
}

}  // namespace

int Weekday(int64_t day) {  // 1970-01-01 was a Thursday
  return static_cast<int>(((day + 3) % 7 + 7) % 7);
}

absl::StatusOr<CalendarModel> CalendarModel::Fit(const CalendarShape& shape,
                                                 const std::vector<double>& counts,
                                                 const std::vector<double>& exposure, size_t window,
                                                 const CalendarModel* near) {
  CalendarModel model;
  model.shape_ = shape;
  model.last_ = static_cast<double>(counts.size()) - 1;
  const int kinds = model.kinds_ = HolidayKinds(shape);
  CountRegression problem;
  problem.overdispersed = false;
  const size_t first = counts.size() > window ? counts.size() - window : 0;
  double scatter = 0, previous = -1;
  for (size_t t = first; t < counts.size(); ++t) {
    const double share = exposure.empty() ? 1 : exposure[t];
    if (!(share > 0)) continue;
    AddRow(shape, kinds, t, model.last_, problem.design.values);
    problem.counts.push_back(counts[t]);
    problem.offset.push_back(std::log(share));
    if (previous >= 0) scatter += (counts[t] - previous) * (counts[t] - previous);
    previous = counts[t];
  }
  // Priors weigh against counts; amounts whose variance is not their mean are brought to that
  // scale.
  double sum = 0;
  bool whole = true;
  for (double y : problem.counts) sum += y, whole = whole && y == std::floor(y);
  model.dispersion_ = shape.dispersion > 0 ? shape.dispersion
                      : whole || sum <= 0  ? 1
                                           : std::max(.5 * scatter / sum, 1e-9);
  std::vector<double> row;
  AddRow(shape, kinds, 0, model.last_, row);
  problem.design.columns = row.size();
  if (near != nullptr && near->fit_.coefficients.size() == row.size())
    problem.start = near->fit_.coefficients;
  problem.penalty = Penalties(shape, model.dispersion_);
  model.precision_ = Penalties(shape, 1);
  model.slow_ = SlowColumns(shape);
  absl::StatusOr<CountFit> fit = FitCounts(problem);
  if (!fit.ok()) return fit.status();
  model.fit_ = *std::move(fit);
  model.used_ = problem.counts.size();
  double squares = 0, before = 0;
  for (size_t i = 0; i < model.used_; ++i) {
    const double off = problem.counts[i] - model.fit_.fitted[i];
    if (i > 0) squares += .5 * (off - before) * (off - before);
    before = off;
  }
  model.scatter_ = sum > 0 ? squares / sum : 1;
  return model;
}

CalendarModel::Mean CalendarModel::Expected(size_t step) const {
  std::vector<double> row;
  row.reserve(fit_.coefficients.size());
  AddRow(shape_, kinds_, step, last_, row);
  Mean mean;
  mean.count = MeanOfRow(fit_, row.data(), 0);
  for (size_t j = 1; j < row.size(); ++j)
    if (slow_[j] != 0) row[j] = 0;
  mean.steady = MeanOfRow(fit_, row.data(), 0);
  return mean;
}

double CalendarModel::LogCovariance(size_t a, size_t b) const {
  std::vector<double> one, other;
  AddRow(shape_, kinds_, a, last_, one);
  AddRow(shape_, kinds_, b, last_, other);
  const size_t k = one.size();
  double sum = 0;
  for (size_t i = 0; i < k; ++i)
    for (size_t j = 0; slow_[i] != 0 && j < k; ++j)
      if (slow_[j] != 0) sum += one[i] * other[j] * fit_.covariance[i * k + j];
  return shape_.slow_dispersion * sum;
}

double CalendarModel::SeasonVariance() const {
  const size_t first = ColumnsOf(shape_).season, k = fit_.coefficients.size();
  double most = 0;
  for (int i = 0; shape_.steps_per_year > 0 && i < 2 * shape_.harmonics; ++i)
    most = std::max(most, fit_.covariance[(first + static_cast<size_t>(i)) * (k + 1)]);
  return shape_.slow_dispersion * most;
}

double CalendarModel::GrowthVariance() const {
  if (!shape_.growth) return 0;
  const size_t i = ColumnsOf(shape_).growth;
  return shape_.slow_dispersion * fit_.covariance[i * (fit_.coefficients.size() + 1)];
}

double CalendarModel::Scatter() const { return scatter_; }

double CalendarModel::LogEvidence() const {
  const size_t k = fit_.coefficients.size();
  Symmetric covariance(k);
  double sum = -.5 * fit_.deviance / dispersion_;
  for (size_t i = 0; i < k; ++i) {
    sum += .5 * std::log(precision_[i] * dispersion_) -
           .5 * precision_[i] * fit_.coefficients[i] * fit_.coefficients[i];
    for (size_t j = 0; j <= i; ++j) covariance.At(i, j) = fit_.covariance[i * k + j];
  }
  return sum + .5 * covariance.LogDeterminant();
}

double CalendarModel::LogEvidence(const CalendarDoubt& doubt, double dispersion) const {
  CalendarShape shape = shape_;
  shape.doubt = doubt;
  shape.slow_dispersion = 1;
  const std::vector<double> fitted = Penalties(shape_, dispersion_), other = Penalties(shape, 1);
  const size_t k = fit_.coefficients.size();
  Symmetric covariance(k);
  for (size_t i = 0; i < k; ++i)
    for (size_t j = 0; j <= i; ++j) covariance.At(i, j) = fit_.covariance[i * k + j];
  Symmetric information = covariance.Inverse();
  // At the fit the slope of the observations is that of the priors, so that this is all of it.
  std::vector<double> slope(k, 0);
  for (size_t i = 0; i < k; ++i)
    for (size_t j = 0; j < k; ++j)
      slope[i] += information.At(std::max(i, j), std::min(i, j)) * fit_.coefficients[j];
  double sum = 0;
  for (size_t i = 0; i < k; ++i) {
    information.At(i, i) += dispersion * other[i] - fitted[i];
    sum += .5 * std::log(dispersion * other[i]);
  }
  const std::vector<double> mode = information.Solve(slope);
  for (size_t i = 0; i < k; ++i) sum += .5 * slope[i] * mode[i] / dispersion;
  return sum - .5 * information.LogDeterminant();
}

namespace {

CalendarShape ShapeOf(const Series& series) {
  CalendarShape shape;
  shape.first_day = series.first_day;
  shape.holiday = series.holiday;
  shape.daily = series.season == 7 || !series.holiday.empty() || series.first_day != 0;
  const double steps = static_cast<double>(series.values.size());
  if (shape.daily)
    shape.steps_per_year = 365.25;
  else if (series.season >= 50)
    shape.steps_per_year = series.season == 52 ? 365.25 / 7 : series.season;
  else
    shape.steps_per_year = 0;
  if (shape.steps_per_year > 0 && steps < 1.2 * shape.steps_per_year) shape.steps_per_year = 0;
  if (!shape.daily && series.season > 1 && series.season < 50) shape.cycle = series.season;
  return shape;
}

// Scatter up to which counts are as good as independent.
constexpr double kIndependent = 1.5;

// The shape with the doubt in each kind of effect that makes the observations likeliest: few counts
// show no weekday, season or growth, and free effects would follow their noise. Where outbreaks or
// a wandering level scatter the counts, or of amounts, whose scatter has no known least, the
// evidence would take effects for noise: there the usual priors stand.
absl::StatusOr<CalendarModel> FitDoubting(CalendarShape* shape, const std::vector<double>& y,
                                          bool whole, size_t window) {
  absl::StatusOr<CalendarModel> best = CalendarModel::Fit(*shape, y, {}, window);
  if (!best.ok() || !whole || best->Scatter() > kIndependent) return best;
  shape->dispersion = std::max(1.0, best->Scatter());
  best = CalendarModel::Fit(*shape, y, {}, window, &*best);
  if (!best.ok()) return best;
  for (double CalendarDoubt::*kind : {&CalendarDoubt::growth, &CalendarDoubt::holiday,
                                      &CalendarDoubt::weekday, &CalendarDoubt::season}) {
    for (double surer : {25.0, 625.0}) {
      CalendarShape trial = *shape;
      trial.doubt.*kind = surer;
      absl::StatusOr<CalendarModel> model = CalendarModel::Fit(trial, y, {}, window, &*best);
      if (!model.ok() || model->LogEvidence() <= best->LogEvidence()) break;
      *shape = trial;
      best = std::move(model);
    }
  }
  return best;
}

}  // namespace

SeriesForecast ForecastCalendar(const Series& series, int horizon) {
  const std::vector<double>& y = series.values;
  const size_t n = y.size();
  if (n < 8 || !IsNonNegative(series)) return ForecastSeasonalNaive(series, horizon);
  CalendarShape shape = ShapeOf(series);
  const size_t per_block = shape.daily ? 7 : 1;
  const size_t window = shape.daily       ? 1461
                        : shape.cycle > 1 ? 40 * static_cast<size_t>(shape.cycle)
                                          : 520;
  const absl::StatusOr<CalendarModel> model = FitDoubting(&shape, y, IsCount(series), window);
  if (!model.ok()) return ForecastSeasonalNaive(series, horizon);
  // Blocks end with the last observation; the horizon adds more, not seen.
  const size_t past = std::min<size_t>(n / per_block, 260);
  const size_t ahead = (static_cast<size_t>(horizon) + per_block - 1) / per_block;
  const size_t start = n - past * per_block;
  std::vector<double> expected(n + static_cast<size_t>(horizon));
  for (size_t t = start; t < expected.size(); ++t) expected[t] = model->Expected(t).count;
  std::vector<LevelBlock> blocks(past + ahead);
  for (size_t t = start; t < n; ++t) {
    LevelBlock& block = blocks[(t - start) / per_block];
    block.counted += y[t];
    block.expected += expected[t];
  }
  const bool count = IsCount(series);
  double dispersion = 1;
  Level level;
  for (int round = 0; round < 3; ++round) {
    double squares = 0;
    for (size_t t = start; t < n; ++t) {
      const double mean =
          expected[t] * (round == 0 ? 1 : std::exp(level.log_mean[(t - start) / per_block]));
      squares += (y[t] - mean) * (y[t] - mean) / std::max(mean, 1e-9);
    }
    // Half of the observations' worth of prior at 1 for counts.
    const double seen = static_cast<double>(n - start);
    dispersion = count ? (squares + 10) / (seen + 10) : squares / seen;
    // With one step per block the level takes up part of the scatter that is noise.
    if (per_block == 1 && round > 0) dispersion *= 1.15;
    dispersion = std::max(dispersion, count ? .8 : 1e-9);
    level = FitLevel(blocks, dispersion, ahead);
  }
  std::vector<double> means, variances;
  for (size_t h = 0; h < static_cast<size_t>(horizon); ++h) {
    const size_t i = h / per_block;
    const double mean = expected[n + h] * level.Mean(past + i);
    const double wander = std::exp(level.Covariance(i, i)) - 1;
    means.push_back(mean);
    variances.push_back(dispersion * mean + mean * mean * wander);
  }
  SeriesForecast forecast;
  if (count && *std::max_element(means.begin(), means.end()) < 1e4) {
    forecast = CountForecast(means, variances);
  } else {
    std::vector<double> sds;
    for (double v : variances) sds.push_back(std::sqrt(v));
    forecast = NormalForecast(means, sds, true);
  }
  forecast.basis = "calendar and level";
  return forecast;
}

}  // namespace ferrule::plan
