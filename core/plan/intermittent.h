// Demand with many empty periods: size and interval smoothed apart. Croston 1972; the bias
// corrections of Syntetos and Boylan (2005) and of Shale, Boylan and Johnston (2006); the form of
// Teunter, Syntetos and Babai (2011), which lets a class that is no longer asked for die out.
#pragma once

#include <vector>

#include "core/plan/forecast.h"

namespace ferrule::plan {

enum class Intermittent { kCroston, kSyntetosBoylan, kShaleBoylanJohnston };

struct CrostonState {
  double size = 0;      // smoothed demand of a period that has any
  double interval = 0;  // smoothed periods per demand; 0 before the first one
};

// From the first size and the first interval on; in time linear in the number of periods.
CrostonState RunCroston(const std::vector<double>& values, double alpha);
// Demand per period; 0 when there was never any.
double CrostonRate(const CrostonState& state, double alpha, Intermittent form);

struct TsbState {
  double size = 0;
  double chance = 0;
};
// Chance and size updated over all values from the given start.
TsbState RunTsb(const std::vector<double>& values, double alpha, double beta, TsbState start);

// Sums over buckets of `bucket` periods that end with the last one, smoothed from the first
// bucket on, per period.
double AggregatedRate(const std::vector<double>& values, int bucket, double alpha);

// Forecasts with weights of least squared error one step ahead, wrapped in a count law whose
// variance is that of the errors. They are flat: a rate with its bounds.
SeriesForecast ForecastCroston(const Series& series, int horizon, Intermittent form);
SeriesForecast ForecastTsb(const Series& series, int horizon);
SeriesForecast ForecastMeanRate(const Series& series, int horizon);
SeriesForecast ForecastSmoothedRate(const Series& series, int horizon);

}  // namespace ferrule::plan
