#include "core/plan/intermittent.h"

#include <algorithm>
#include <cmath>
#include <functional>
#include <limits>

#include "core/plan/distributions.h"

namespace ferrule::plan {
namespace {

const std::vector<double> kWeights = {.02, .05, .1, .15, .2};

// Of sizes and of chances in the form of Teunter, Syntetos and Babai: outbreaks move both fast.
const std::vector<double> kTsbWeights = {.02, .05, .1, .2, .3};

// The weight of sizes and intervals in Croston's form and those that correct it: the published
// default (R forecast, croston()). Chosen by squares of one-step errors it follows the noise of
// rare orders.
constexpr double kPublishedWeight = .1;

// A gamma prior of half an observed order: a rate of zero is never certain.
constexpr double kPriorOrders = 0.5;

using Step = std::function<double(double y, bool observe)>;

// The rate, in count laws at each horizon. The level moves, so its uncertainty grows with h.
SeriesForecast Wrap(const Series& series, int horizon, double rate, double alpha) {
  const size_t n = series.values.size();
  double sum = 0;
  for (double y : series.values) sum += y;
  const double periods = static_cast<double>(std::max<size_t>(n, 1));
  std::string basis;
  if (sum == 0) {
    rate = kPriorOrders / periods;
    basis = "no demand in the history: a rate of half an order over it, with wide bounds";
  }
  rate = std::max(rate, 1e-6);
  const double mean = std::max(sum / periods, 1e-6);
  const std::vector<double> means(n, mean);
  const double size = n > 0 ? FitSize(series.values, means) : 1;
  // Orders that the smoothed rate rests on.
  const double behind = alpha > 0 ? std::max(1.0, mean * (2 - alpha) / alpha) : mean * periods + 1;
  std::vector<double> m, v;
  for (int h = 1; h <= horizon; ++h) {
    m.push_back(rate);
    // The scatter about the mean holds the wandering of the rate already, where it shows.
    v.push_back(rate + rate * rate * std::max(1 / size, 1 / behind));
  }
  SeriesForecast forecast = CountForecast(m, v);
  forecast.basis = basis;
  return forecast;
}

void Observe(double y, double alpha, double beta, TsbState* s) {
  s->chance += beta * ((y > 0 ? 1.0 : 0.0) - s->chance);
  if (y > 0) s->size += alpha * (y - s->size);
}

// Sum of squares of one-step errors.
double TsbSquares(const std::vector<double>& values, double alpha, double beta, TsbState s) {
  double squares = 0;
  for (double y : values) {
    const double e = y - s.size * s.chance;
    squares += e * e;
    Observe(y, alpha, beta, &s);
  }
  return squares;
}

// The weight with the least sum of squares of one-step errors of `rate`, updated through time.
double BestWeight(const std::function<double(double)>& squares) {
  double best = kWeights[0], least = std::numeric_limits<double>::infinity();
  for (double w : kWeights) {
    const double s = squares(w);
    if (s < least) least = s, best = w;
  }
  return best;
}

}  // namespace

CrostonState RunCroston(const std::vector<double>& values, double alpha) {
  CrostonState s;
  double since = 0;
  for (double y : values) {
    since += 1;
    if (!(y > 0)) continue;
    if (s.interval == 0) {
      s = {y, since};
    } else {
      s.size += alpha * (y - s.size);
      s.interval += alpha * (since - s.interval);
    }
    since = 0;
  }
  return s;
}

double CrostonRate(const CrostonState& s, double alpha, Intermittent form) {
  if (!(s.interval > 0)) return 0;
  const double rate = s.size / s.interval;
  if (form == Intermittent::kSyntetosBoylan) return (1 - alpha / 2) * rate;
  if (form == Intermittent::kShaleBoylanJohnston) return (1 - alpha / (2 - alpha)) * rate;
  return rate;
}

TsbState RunTsb(const std::vector<double>& values, double alpha, double beta, TsbState s) {
  for (double y : values) Observe(y, alpha, beta, &s);
  return s;
}

double AggregatedRate(const std::vector<double>& values, int bucket, double alpha) {
  const size_t k = static_cast<size_t>(std::max(1, bucket));
  double level = 0;
  bool first = true;
  for (size_t t = values.size() % k; t + k <= values.size(); t += k) {
    double sum = 0;
    for (size_t i = 0; i < k; ++i) sum += values[t + i];
    level = first ? sum : level + alpha * (sum - level);
    first = false;
  }
  return level / static_cast<double>(k);
}

SeriesForecast ForecastCroston(const Series& series, int horizon, Intermittent form) {
  const CrostonState state = RunCroston(series.values, kPublishedWeight);
  return Wrap(series, horizon, CrostonRate(state, kPublishedWeight, form), kPublishedWeight);
}

SeriesForecast ForecastTsb(const Series& series, int horizon) {
  TsbState start;
  double events = 0;
  for (double y : series.values)
    if (y > 0) events += 1, start.size += y;
  if (events > 0) start.size /= events;
  start.chance = (events + .5) / (static_cast<double>(series.values.size()) + 1);
  double alpha = kTsbWeights[0], beta = alpha, least = std::numeric_limits<double>::infinity();
  for (double a : kTsbWeights)
    for (double b : kTsbWeights) {
      const double squares = TsbSquares(series.values, a, b, start);
      if (squares < least) least = squares, alpha = a, beta = b;
    }
  const TsbState s = RunTsb(series.values, alpha, beta, start);
  return Wrap(series, horizon, s.size * s.chance, beta);
}

SeriesForecast ForecastMeanRate(const Series& series, int horizon) {
  double sum = 0;
  for (double y : series.values) sum += y;
  return Wrap(series, horizon, sum / static_cast<double>(std::max<size_t>(1, series.values.size())),
              0);
}

SeriesForecast ForecastSmoothedRate(const Series& series, int horizon) {
  if (series.values.empty()) return ForecastMeanRate(series, horizon);
  double start = 0;
  for (double y : series.values) start += y / static_cast<double>(series.values.size());
  const auto run = [&](double w, double* squares) {
    double level = start;
    for (double y : series.values) {
      if (squares) *squares += (y - level) * (y - level);
      level += w * (y - level);
    }
    return level;
  };
  const double alpha = BestWeight([&](double w) {
    double squares = 0;
    run(w, &squares);
    return squares;
  });
  return Wrap(series, horizon, run(alpha, nullptr), alpha);
}

}  // namespace ferrule::plan
