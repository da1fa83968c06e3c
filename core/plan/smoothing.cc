#include "core/plan/smoothing.h"

#include <algorithm>
#include <cmath>
#include <cstdint>
#include <limits>
#include <numeric>

#include "core/plan/optimum.h"
#include "core/plan/random.h"

namespace ferrule::plan {
namespace {

constexpr double kInfinity = std::numeric_limits<double>::infinity();
constexpr int kPaths = 4000;
constexpr double kLeastWeight = .05;  // of a model in the mean, over the best one's

bool Seasonal(const SmoothingModel& m) { return m.season != Part::kNone; }
bool Trended(const SmoothingModel& m) { return m.trend != Part::kNone; }

double Trend(const SmoothingModel& m, const SmoothingState& s, int h) {
  if (!Trended(m)) return s.level;
  if (!m.damped) return s.level + h * s.slope;
  double factor = 0, power = 1;
  for (int i = 0; i < h; ++i) factor += (power *= s.phi);
  return s.level + factor * s.slope;
}

// Places of the free parameters in the vector that is searched.
std::vector<double> Pack(const SmoothingModel& m, const SmoothingState& s, double scale) {
  std::vector<double> x = {s.alpha};
  if (Trended(m)) x.push_back(s.beta / s.alpha);
  if (Seasonal(m)) x.push_back(s.gamma / (1 - s.alpha));
  if (m.damped) x.push_back(s.phi);
  x.push_back(s.level / scale);
  if (Trended(m)) x.push_back(s.slope / scale);
  const double unit = m.season == Part::kMultiplicative ? 1 : scale;
  for (size_t i = 0; Seasonal(m) && i + 1 < s.season.size(); ++i) x.push_back(s.season[i] / unit);
  return x;
}

// False when a weight is outside its range.
bool Unpack(const SmoothingModel& m, const std::vector<double>& x, double scale,
            SmoothingState& s) {
  size_t i = 0;
  s.alpha = x[i++];
  if (!(s.alpha >= 1e-4 && s.alpha <= .9999)) return false;
  if (Trended(m)) {
    if (!(x[i] >= 1e-4 && x[i] <= .9999)) return false;
    s.beta = x[i++] * s.alpha;
  }
  if (Seasonal(m)) {
    if (!(x[i] >= 1e-4 && x[i] <= .9999)) return false;
    s.gamma = x[i++] * (1 - s.alpha);
  }
  if (m.damped) {
    if (!(x[i] >= .8 && x[i] <= .98)) return false;
    s.phi = x[i++];
  }
  s.level = x[i++] * scale;
  if (Trended(m)) s.slope = x[i++] * scale;
  if (Seasonal(m)) {
    const bool ratio = m.season == Part::kMultiplicative;
    const size_t cycle = static_cast<size_t>(m.cycle);
    s.season.resize(cycle);
    double rest = ratio ? m.cycle : 0;
    for (size_t k = 0; k + 1 < cycle; ++k) {
      s.season[k] = x[i++] * (ratio ? 1 : scale);
      rest -= s.season[k];
      if (ratio && s.season[k] <= 0) return false;
    }
    s.season[cycle - 1] = rest;
    if (ratio && rest <= 0) return false;
  }
  return true;
}

// Start: season from centred means over up to `cycles` cycles, level and slope from a straight line
// through the first adjusted values.
SmoothingState Guess(const SmoothingModel& m, const std::vector<double>& y, size_t cycles) {
  SmoothingState s;
  const size_t n = y.size(), cycle = static_cast<size_t>(m.cycle);
  std::vector<double> adjusted = y;
  if (Seasonal(m)) {
    const bool ratio = m.season == Part::kMultiplicative;
    const size_t upto = std::min(n, cycles * cycle);
    std::vector<double> sum(cycle, 0), count(cycle, 0);
    for (size_t t = cycle / 2; t + cycle / 2 < upto; ++t) {
      double centre = 0;
      for (size_t k = 0; k < cycle; ++k) centre += y[t - cycle / 2 + k];
      if (cycle % 2 == 0) centre += 0.5 * (y[t + cycle / 2] - y[t - cycle / 2]);
      centre /= static_cast<double>(cycle);
      sum[t % cycle] += ratio ? y[t] / std::max(centre, 1e-12) : y[t] - centre;
      count[t % cycle] += 1;
    }
    double mean = 0;
    for (size_t k = 0; k < cycle; ++k) {
      sum[k] = count[k] > 0 ? sum[k] / count[k] : (ratio ? 1 : 0);
      mean += sum[k] / static_cast<double>(cycle);
    }
    s.season.resize(cycle);
    for (size_t k = 0; k < cycle; ++k) {
      s.season[k] = ratio ? std::max(sum[k] / mean, .01) : sum[k] - mean;
    }
    for (size_t t = 0; t < n; ++t)
      adjusted[t] = ratio ? y[t] / s.season[t % cycle] : y[t] - s.season[t % cycle];
  }
  const size_t k = std::min(n, std::max<size_t>(10, Seasonal(m) ? 2 * cycle : 0));
  double sx = 0, sy = 0, sxx = 0, sxy = 0;
  for (size_t t = 0; t < k; ++t) {
    const double x = static_cast<double>(t) + 1;
    sx += x, sy += adjusted[t], sxx += x * x, sxy += x * adjusted[t];
  }
  const double d = static_cast<double>(k), det = d * sxx - sx * sx;
  s.slope = det > 0 ? (d * sxy - sx * sy) / det : 0;
  s.level = Trended(m) ? (sy - s.slope * sx) / d : sy / d;
  if (m.error == Part::kMultiplicative && s.level <= 0) s.level = std::max(sy / d, 1e-6);
  s.alpha = Seasonal(m) ? .3 : .5;
  s.beta = .1 * s.alpha;
  s.gamma = .1 * (1 - s.alpha);
  s.phi = m.damped ? .95 : 1;
  if (!Trended(m)) s.slope = 0;
  return s;
}

bool TooShort(const SmoothingModel& model, const std::vector<double>& values) {
  return values.size() < 2 ||
         (Seasonal(model) && values.size() < 2 * static_cast<size_t>(model.cycle));
}

// Sums of squares of the errors at each number of steps ahead, and how many there were.
struct ErrorsAhead {
  std::vector<double> squares, count;
};

ErrorsAhead ErrorsUpTo(size_t steps, const SmoothingModel& model, SmoothingState s,
                       const std::vector<double>& values, bool relative) {
  ErrorsAhead errors{std::vector<double>(steps, 0), std::vector<double>(steps, 0)};
  if (!model.damped) s.phi = 1;
  for (size_t t = 0; t < values.size(); ++t) {
    for (size_t h = 0; h < std::min(steps, values.size() - t); ++h) {
      const double expected = s.Ahead(model, static_cast<int>(h) + 1);
      if (relative && !(expected > 0)) continue;
      const double e = (values[t + h] - expected) / (relative ? expected : 1);
      errors.squares[h] += e * e;
      errors.count[h] += 1;
    }
    s.Observe(model, values[t]);
  }
  return errors;
}

// Mean square of all errors 1 to `cycle` steps ahead.
double SquaresOverCycle(const SmoothingModel& model, const SmoothingState& start,
                        const std::vector<double>& values) {
  const ErrorsAhead errors =
      ErrorsUpTo(static_cast<size_t>(model.cycle), model, start, values, false);
  return std::accumulate(errors.squares.begin(), errors.squares.end(), 0.0) /
         std::accumulate(errors.count.begin(), errors.count.end(), 0.0);
}

// Widens bounds half way, as a ratio, to what the errors on `seen` were at so many steps ahead, in
// the mean over the steps: they overlap, so what they say is in doubt too.
void Widen(const SmoothingFit& fit, const std::vector<double>& seen, bool non_negative,
           SeriesForecast* forecast) {
  const bool relative = fit.model.error == Part::kMultiplicative;
  const ErrorsAhead errors =
      ErrorsUpTo(forecast->steps.size(), fit.model, fit.start, seen, relative);
  double were = 0, said = 0;
  for (size_t h = 0; h < forecast->steps.size() && errors.count[h] > 0; ++h) {
    const StepForecast& step = forecast->steps[h];
    const double unit = relative ? fit.now.Ahead(fit.model, static_cast<int>(h) + 1) : 1;
    were += errors.squares[h] / errors.count[h];
    said += step.variance / (unit * unit);
  }
  const double by = std::sqrt(std::sqrt(were / said));
  if (!(by > 1) || !std::isfinite(by)) return;
  for (StepForecast& step : forecast->steps) {
    step.variance *= by * by;
    for (double& q : step.quantiles) {
      q = step.mean + by * (q - step.mean);
      if (non_negative) q = std::max(0.0, q);
    }
  }
}

// The log of a density of Beta(2, 2), but for a constant.
double LogPrior(double weight) { return std::log(weight) + std::log1p(-weight); }
// That of Beta(1, 2) for the trend's weight: few values would let it follow every error, and bounds
// then grow without measure.
double LogSteady(const SmoothingModel& m, const SmoothingState& s) {
  return Trended(m) ? std::log1p(-s.beta / s.alpha) : 0;
}
// A level without a season may well be the last value.
double LogPrior(const SmoothingModel& m, const SmoothingState& s) {
  return (Seasonal(m) ? LogPrior(s.alpha) : 0) + LogSteady(m, s);
}

}  // namespace

double SmoothingState::Ahead(const SmoothingModel& m, int h) const {
  const double base = Trend(m, *this, h);
  if (!Seasonal(m)) return base;
  const double part = season[static_cast<size_t>((h - 1) % m.cycle)];
  return m.season == Part::kMultiplicative ? base * part : base + part;
}

double SmoothingState::Observe(const SmoothingModel& m, double y, double* one_ahead) {
  const double damp = m.damped ? phi : 1;
  const double base = Trended(m) ? level + damp * slope : level;
  const double part = Seasonal(m) ? season[0] : 0;
  const bool ratio = m.season == Part::kMultiplicative;
  const double expected = ratio ? base * part : base + part;
  if (one_ahead != nullptr) *one_ahead = expected;
  const double e = y - expected;
  // In the additive form with a seasonal ratio the corrections are divided by the other factor.
  const double on_level = ratio ? e / part : e;
  level = base + alpha * on_level;
  slope = damp * slope + beta * on_level;
  if (Seasonal(m)) {
    const double next = part + gamma * (ratio ? e / base : e);
    std::rotate(season.begin(), season.begin() + 1, season.end());
    season.back() = next;
  }
  return m.error == Part::kMultiplicative ? e / expected : e;
}

SmoothingFit RunSmoothing(const SmoothingModel& model, const SmoothingState& start,
                          const std::vector<double>& values) {
  SmoothingFit fit;
  fit.model = model;
  fit.start = start;
  SmoothingState s = start;
  if (!model.damped) s.phi = 1;
  // The logarithms of many factors are taken together, as far as their product stays in range.
  double own = 0, log_scale = 0, product = 1;
  for (double y : values) {
    double expected = 0;
    const double e = s.Observe(model, y, &expected);
    if (model.error == Part::kMultiplicative) {
      if (!(expected > 1e-12)) return fit;
      product *= expected;
      if (!(product > 1e-250 && product < 1e250)) {
        log_scale += std::log(product);
        product = 1;
      }
    }
    own += e * e;
    fit.sum_squares += (y - expected) * (y - expected);
  }
  log_scale += std::log(product);
  fit.now = s;
  const double n = static_cast<double>(values.size());
  const double weights = 1 + Trended(model) + Seasonal(model) + model.damped;
  const double states = 1 + Trended(model) + (Seasonal(model) ? model.cycle - 1 : 0);
  const double k = weights + states + 1;
  fit.log_likelihood = -0.5 * n * std::log(std::max(own, 1e-300)) - log_scale;
  fit.corrected_aic = n > k + 1 ? -2 * fit.log_likelihood + 2 * k * n / (n - k - 1) : kInfinity;
  fit.sigma = std::sqrt(own / std::max(1.0, n - weights - states));
  fit.usable = std::isfinite(fit.log_likelihood) && std::isfinite(fit.sum_squares) && n > 0;
  return fit;
}

SmoothingFit FitSmoothing(const SmoothingModel& model, const std::vector<double>& values,
                          Criterion criterion) {
  if (TooShort(model, values)) return {model, {}, {}};
  double scale = 0;
  for (double y : values) scale += std::abs(y) / static_cast<double>(values.size());
  scale = std::max(scale, 1e-9);
  const auto objective = [&](const std::vector<double>& x) {
    SmoothingState s;
    if (!Unpack(model, x, scale, s)) return kInfinity;
    const SmoothingFit fit = RunSmoothing(model, s, values);
    if (!fit.usable) return kInfinity;
    if (criterion == Criterion::kSquares) return std::log(std::max(fit.sum_squares, 1e-300));
    return -fit.log_likelihood - (criterion == Criterion::kPosterior ? LogPrior(model, s) : 0);
  };
  const SmoothingState guess = Guess(model, values, 5);
  SmoothingFit best;
  best.model = model;
  double least = kInfinity;
  const double alphas[] = {guess.alpha, .08, .8};
  for (double alpha : alphas) {
    SmoothingState s = guess;
    s.alpha = alpha;
    s.beta = .1 * alpha;
    s.gamma = .1 * (1 - alpha);
    const std::vector<double> x = Pack(model, s, scale);
    std::vector<double> step(x.size(), .05);
    for (size_t i = 0; i < step.size() && i < 3; ++i) step[i] = .1;
    if (model.damped) step[Seasonal(model) ? 3 : 2] = -.05;
    if (!(objective(x) < kInfinity)) continue;
    const int limit = 250 + 60 * static_cast<int>(x.size());
    Minimum m = Minimise(objective, x, step, 1e-8, limit);
    m = Minimise(objective, m.at, step, 1e-8, limit);
    if (m.value < least) {
      least = m.value;
      SmoothingState found;
      Unpack(model, m.at, scale, found);
      best = RunSmoothing(model, found, values);
    }
  }
  return best;
}

SmoothingFit FitHoltWinters(const SmoothingModel& model, const std::vector<double>& values,
                            HoltWintersFit how) {
  if (TooShort(model, values)) return {model, {}, {}};
  const bool weights_only = how == HoltWintersFit::kWeights;
  double scale = 0;
  for (double y : values) scale += std::abs(y) / static_cast<double>(values.size());
  scale = std::max(scale, 1e-9);
  const std::vector<double> packed =
      Pack(model, Guess(model, values, weights_only ? values.size() : 5), scale);
  const auto at = [&](const std::vector<double>& free, SmoothingState& s) {
    std::vector<double> x = packed;
    std::copy(free.begin(), free.end(), x.begin());
    return Unpack(model, x, scale, s);
  };
  const auto objective = [&](const std::vector<double>& free) {
    SmoothingState s;
    if (!at(free, s)) return kInfinity;
    const SmoothingFit run = RunSmoothing(model, s, values);
    if (!run.usable) return kInfinity;
    const double near = std::log(std::max(run.sum_squares, 1e-300));
    const double far = how == HoltWintersFit::kNear
                           ? near
                           : std::log(std::max(SquaresOverCycle(model, s, values), 1e-300));
    const double squares = weights_only ? far : .5 * (near + far);
    const double steady = weights_only ? 0 : LogSteady(model, s);
    return .5 * static_cast<double>(values.size()) * squares - LogPrior(s.alpha) - steady;
  };
  const size_t weights = 1 + Trended(model) + Seasonal(model) + model.damped;
  const size_t count = weights_only ? weights : packed.size();
  const int limit =
      weights_only ? 100 * static_cast<int>(count) : 250 + 60 * static_cast<int>(count);
  SmoothingFit best;
  best.model = model;
  double least = kInfinity;
  for (double alpha : {.3, .08, .8}) {
    std::vector<double> start(packed.begin(), packed.begin() + static_cast<int64_t>(count));
    start[0] = alpha;
    std::vector<double> step(count, .05);
    std::fill(step.begin(), step.begin() + static_cast<int64_t>(weights), model.damped ? -.05 : .1);
    Minimum m = Minimise(objective, start, step, 1e-8, limit);
    if (!weights_only && std::isfinite(m.value)) m = Minimise(objective, m.at, step, 1e-8, limit);
    SmoothingState found;
    if (!(m.value < least) || !at(m.at, found)) continue;
    const SmoothingFit fit = RunSmoothing(model, found, values);
    if (!fit.usable) continue;
    least = m.value;
    best = fit;
  }
  return best;
}

std::vector<double> ErrorGrowth(const SmoothingModel& model, const SmoothingState& s, int horizon) {
  std::vector<double> growth;
  double sum = 1, factor = 0, power = 1;
  for (int h = 1; h <= horizon; ++h) {
    growth.push_back(std::sqrt(sum));
    factor += model.damped ? (power *= s.phi) : 1;
    const double c = s.alpha + (Trended(model) ? s.beta * factor : 0) +
                     (Seasonal(model) && h % model.cycle == 0 ? s.gamma : 0);
    sum += c * c;
  }
  return growth;
}

namespace {

SeriesForecast ForecastOf(const SmoothingFit& fit, int horizon, bool non_negative) {
  const SmoothingModel& m = fit.model;
  if (m.error != Part::kMultiplicative && m.season != Part::kMultiplicative) {
    std::vector<double> means, sds = ErrorGrowth(m, fit.now, horizon);
    for (int h = 1; h <= horizon; ++h) {
      means.push_back(fit.now.Ahead(m, h));
      sds[static_cast<size_t>(h - 1)] *= fit.sigma;
    }
    return NormalForecast(means, sds, non_negative);
  }
  // No closed form: paths, always the same ones.
  std::vector<std::vector<double>> paths(kPaths, std::vector<double>(static_cast<size_t>(horizon)));
  for (int p = 0; p < kPaths; p += 2) {
    Random random(0x5e50, static_cast<uint64_t>(p));
    SmoothingState a = fit.now, b = fit.now;
    for (size_t h = 0; h < static_cast<size_t>(horizon); ++h) {
      const double z = fit.sigma * random.Normal();
      for (int side = 0; side < 2; ++side) {
        SmoothingState& s = side == 0 ? a : b;
        const double expected = s.Ahead(m, 1), e = side == 0 ? z : -z;
        const double y =
            m.error == Part::kMultiplicative ? expected * std::max(1 + e, 1e-3) : expected + e;
        s.Observe(m, y);
        paths[static_cast<size_t>(p + side)][h] = y;
      }
    }
  }
  SeriesForecast forecast = PathForecast(paths, non_negative);
  for (int h = 1; h <= horizon; ++h) {
    StepForecast& step = forecast.steps[static_cast<size_t>(h - 1)];
    step.mean = fit.now.Ahead(m, h);
    if (non_negative) step.mean = std::max(0.0, step.mean);
  }
  return forecast;
}

}  // namespace

SeriesForecast ForecastSmoothing(const SmoothingFit& fit, int horizon, bool non_negative,
                                 const std::vector<double>& seen) {
  SeriesForecast forecast = ForecastOf(fit, horizon, non_negative);
  if (!seen.empty()) Widen(fit, seen, non_negative, &forecast);
  return forecast;
}

namespace {

std::vector<SmoothingModel> ModelsFor(const Series& series) {
  const bool positive =
      std::all_of(series.values.begin(), series.values.end(), [](double y) { return y > 0; });
  const bool seasonal = series.season > 1 && series.season <= 24 &&
                        series.values.size() >= 2 * static_cast<size_t>(series.season) + 4;
  std::vector<SmoothingModel> models;
  for (Part season : {Part::kNone, Part::kAdditive, Part::kMultiplicative}) {
    if (season != Part::kNone && !seasonal) continue;
    if (season == Part::kMultiplicative && !positive) continue;
    for (Part error : {Part::kAdditive, Part::kMultiplicative}) {
      if (error == Part::kMultiplicative && !positive) continue;
      if (error == Part::kAdditive && season == Part::kMultiplicative) continue;
      for (int trend = 0; trend < 3; ++trend)
        models.push_back({error, trend > 0 ? Part::kAdditive : Part::kNone, trend == 2, season,
                          season == Part::kNone ? 1 : series.season});
    }
  }
  return models;
}

double AkaikeWeight(const SmoothingFit& fit, const SmoothingFit& best) {
  return std::exp(.5 * (best.corrected_aic - fit.corrected_aic));
}

}  // namespace

std::vector<SmoothingFit> LikelySmoothings(const Series& series) {
  std::vector<SmoothingFit> fits;
  for (const SmoothingModel& model : ModelsFor(series)) {
    const SmoothingFit fit = FitSmoothing(model, series.values, Criterion::kPosterior);
    if (fit.usable && fit.corrected_aic < kInfinity) fits.push_back(fit);
  }
  std::stable_sort(fits.begin(), fits.end(), [](const SmoothingFit& a, const SmoothingFit& b) {
    return a.corrected_aic < b.corrected_aic;
  });
  while (fits.size() > 1 && AkaikeWeight(fits.back(), fits[0]) < kLeastWeight) fits.pop_back();
  return fits;
}

SeriesForecast ForecastSmoothings(const std::vector<SmoothingFit>& fits, int horizon,
                                  bool non_negative) {
  std::vector<SeriesForecast> forecasts;
  std::vector<double> weights;
  for (const SmoothingFit& fit : fits) {
    forecasts.push_back(ForecastSmoothing(fit, horizon, non_negative));
    weights.push_back(AkaikeWeight(fit, fits[0]));
  }
  std::vector<const SeriesForecast*> each;
  for (const SeriesForecast& forecast : forecasts) each.push_back(&forecast);
  return Combine(each, weights);
}

SmoothingFit SelectPlainSmoothing(const std::vector<double>& values) {
  SmoothingFit best;
  best.corrected_aic = kInfinity;
  for (const bool damped : {false, true}) {
    const SmoothingModel model{Part::kAdditive, damped ? Part::kAdditive : Part::kNone, damped,
                               Part::kNone, 1};
    const SmoothingFit fit = FitSmoothing(model, values, Criterion::kLikelihood);
    if (fit.usable && fit.corrected_aic < best.corrected_aic) best = fit;
  }
  return best;
}

}  // namespace ferrule::plan
