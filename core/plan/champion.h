// Which method to use: every suitable one forecasts from past origins, with no more than was known
// there, and is scored by pinball loss over the naive scale. The incumbent stays until another is
// clearly better, so that the plan does not flicker.
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
  int step = 1;             // between origins
  int scale_lag = 1;        // of the naive scale
  double hysteresis = .02;  // a challenger must be better by this share
};

struct MethodScore {
  Method method;
  double loss = 0;  // scaled pinball loss over the origins
  int origins = 0;  // on how many it rests
};

struct Champion {
  Method method = Method::kSeasonalNaive;
  std::vector<MethodScore> scores;  // best first
  SeriesForecast forecast;          // the champion's: see ForecastChampion
};

// Keeps forecasts from past origins, as a next origin mostly asks for the same ones again.
class Backtest {
 public:
  explicit Backtest(BacktestPlan plan) : plan_(plan) {}

  // Scores and forecasts at the end of `series`. Forecasts of methods within a tenth of the best
  // are averaged, each by its past score: errors of different methods cancel in part. `method` is
  // the best alone, by which the basis is told; it persists from call to call.
  Champion At(const Series& series);
  // The forecast of one method from the end of `series`.
  const SeriesForecast& Forecast(Method method, const Series& series);

 private:
  BacktestPlan plan_;
  std::map<std::pair<Method, size_t>, SeriesForecast> kept_;
  bool has_incumbent_ = false;
  Method incumbent_ = Method::kSeasonalNaive;
};

}  // namespace ferrule::plan
