// All methods of forecasting a series, by name.
#pragma once

#include <string>
#include <string_view>
#include <vector>

#include "core/plan/forecast.h"

namespace ferrule::plan {

enum class Method {
  kSeasonalNaive,
  kSmoothing,         // exponential smoothing, models weighted by corrected AIC
  kHoltWintersSum,    // additive trend and season
  kHoltWintersRatio,  // additive trend, season as ratio
  kTheta,
  kAirline,   // seasonal differences with moving averages
  kTogether,  // the mean of both of Holt and Winters and the airline: their errors cancel in part
  kCalendar,  // calendar regression and level
  kCroston,
  kSyntetosBoylan,
  kTsb,
  kMeanRate,
  kSmoothedRate,
};

// Methods that see a series alike and err alike.
enum class Family { kNaive, kSmoothing, kTheta, kDifferences, kTogether, kCalendar, kRate };

std::string_view Name(Method method);
Family FamilyOf(Method method);
// Whether a series of counts has so many empty steps that methods for rare orders suit it.
bool IsRare(const Series& series);
// The methods that suit the series: those for counts with empty periods only where there are
// some, seasonal ones only with two cycles or more.
std::vector<Method> SuitableMethods(const Series& series);
// The methods whose mean kTogether is for the series.
std::vector<Method> PartsOfTogether(const Series& series);
// One forecast; every method answers any series, falling back to a plainer one and saying so.
SeriesForecast ForecastBy(Method method, const Series& series, int horizon);

}  // namespace ferrule::plan
