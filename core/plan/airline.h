// Seasonal differences: log amounts (or amounts) differenced once step by step and once over the
// cycle, with one moving-average term each, ARIMA (0,1,1)(0,1,1), the "airline model" of Box and
// Jenkins (1970). Fitted by exact Gaussian likelihood.
#pragma once

#include <vector>

#include "core/plan/forecast.h"

namespace ferrule::plan {

struct AirlineFit {
  bool logs = false;    // of the amounts, where these are positive and their likelihood is greater
  double near = 0;      // moving-average weight of the step before, in (-1, 1)
  double cycle = 0;     // the same one cycle before
  double variance = 0;  // of the innovations, over all differences (no degrees of freedom taken)
  double deviance = 0;  // -2 log likelihood of the amounts, without its constant
  bool usable = false;  // false: too short (fewer than 8 differences), or nothing varies
};

// Of the amounts themselves or of their logs. `season` >= 2 steps per cycle.
AirlineFit FitAirline(const std::vector<double>& values, int season, bool logs);

// By the better of the two forms; the seasonal naive forecast where neither is usable.
SeriesForecast ForecastAirline(const Series& series, int horizon);

}  // namespace ferrule::plan
