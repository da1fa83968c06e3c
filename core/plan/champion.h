// Which method to use: every suitable one forecasts from past origins, with no more than was known
// there, and is scored by pinball loss over the naive scale. The incumbent stays until another is
// clearly better, so that the plan does not flicker. A series of rare orders cannot tell the
// methods apart alone: where there are series alike, the mean loss over all of them does.
#pragma once

#include <functional>
#include <map>
#include <utility>
#include <vector>

#include "core/plan/methods.h"

namespace ferrule::plan {

struct BacktestPlan {
  int horizon = 1;
  int origins = 8;          // past origins, the newest one horizon back
  int step = 1;             // between origins, >= 1
  int scale_lag = 1;        // of the naive scale
  double hysteresis = .02;  // a challenger must be better by this share
  int rare_step = 1;        // between origins where orders are rare: none is to count twice
};

// Sixteen origins over the last four horizons (sixteen where orders are rare), and over a year at
// least, as one season shows no other; what lies further back tells less of what comes. The step is
// a whole number of short cycles (weeks of days).
BacktestPlan PlanOfBacktest(int season, int horizon, int scale_lag);

struct MethodScore {
  Method method;
  double loss = 0;             // scaled pinball loss over the origins
  int origins = 0;             // on how many it rests
  std::vector<double> losses;  // of each origin, newest first
};

// Mean pinball loss of the steps that came, series.values[origin] the first one.
double WindowLoss(const std::vector<double>& values, size_t origin, const SeriesForecast& forecast);

struct Champion {
  Method method = Method::kSeasonalNaive;
  std::vector<MethodScore> scores;  // best first
  std::vector<Method> averaged;     // whose mean the forecast is, best first
  SeriesForecast forecast;
};

// Keeps forecasts from past origins, as a next origin mostly asks for the same ones again.
class Backtest {
 public:
  explicit Backtest(BacktestPlan plan) : plan_(plan) {}

  // Scores and forecasts at the end of `series`. The forecast is the mean of the best methods of
  // the three best families, each by its past score, as errors of different kinds cancel in part:
  // of those that are within a tenth of the best or not surely worse. Where Holt and Winters's and
  // the airline method suit, their mean alone stands unless another method is surely better.
  // `method` is the best alone, by which the basis is told; it persists from call to call.
  // `alike` are the scores, at the same time, of other series of the same kind, such as a class at
  // other branches; they count where orders are rare.
  Champion At(const Series& series, const std::vector<std::vector<MethodScore>>& alike = {});
  // The suitable methods' losses at past origins; those that fewer origins allow are left out.
  std::vector<MethodScore> Scores(const Series& series);
  // The forecast of one method from the end of `series`.
  const SeriesForecast& Forecast(Method method, const Series& series);

 private:
  BacktestPlan plan_;
  std::map<std::pair<Method, size_t>, SeriesForecast> kept_;
  bool has_incumbent_ = false;
  Method incumbent_ = Method::kSeasonalNaive;
};

}  // namespace ferrule::plan
