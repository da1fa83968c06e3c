// Plain methods that anything cleverer must beat: the value one cycle ago, and the theta method
// (Assimakopoulos and Nikolopoulos 2000), which is smoothing with half the drift.
#pragma once

#include <vector>

#include "core/plan/forecast.h"

namespace ferrule::plan {

SeriesForecast ForecastSeasonalNaive(const Series& series, int horizon);
SeriesForecast ForecastTheta(const Series& series, int horizon);

// Ratios of the season's steps to the moving average of one cycle, mean 1; empty when there are
// fewer than two cycles or a value that is not above 0.
std::vector<double> SeasonRatios(const std::vector<double>& values, int season);

}  // namespace ferrule::plan
