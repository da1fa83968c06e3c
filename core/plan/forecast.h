// What every method of forecasting a series takes and gives.
#pragma once

#include <array>
#include <cstdint>
#include <string>
#include <vector>

namespace ferrule::plan {

// The shares at which a forecast gives its quantiles.
inline constexpr std::array<double, 7> kLevels = {.025, .1, .5, .9, .95, .975, .99};

// Observations at even steps, the last one "now". Every method answers for any length, also 0.
struct Series {
  std::vector<double> values;  // finite; a count series has whole numbers >= 0
  int season = 1;              // steps per cycle: 7 for days, 12 for months, 52 for weeks
  // For daily series: the day number (days since 1970-01-01) of the first observation, and for
  // every step, horizon included, its holiday. Empty when the steps are no days.
  int64_t first_day = 0;
  std::vector<int> holiday;  // 0 for none, else a number per kind
};

bool IsCount(const Series& series);  // whole numbers >= 0 throughout
bool IsNonNegative(const Series& series);

struct StepForecast {
  double mean = 0;
  double variance = 0;  // of the law behind the quantiles; 0 where these alone are known
  std::array<double, kLevels.size()> quantiles{};  // at kLevels, never falling
};

struct SeriesForecast {
  std::vector<StepForecast> steps;
  std::string basis;  // in words: the model taken, or why a simpler one was
};

// Steps from means and standard deviations of a normal law; cut at 0 for a series without
// negative values.
SeriesForecast NormalForecast(const std::vector<double>& means, const std::vector<double>& sds,
                              bool non_negative);
// Steps from means and variances of counts.
SeriesForecast CountForecast(const std::vector<double>& means,
                             const std::vector<double>& variances);
// Steps from paths: paths[p][h].
SeriesForecast PathForecast(const std::vector<std::vector<double>>& paths, bool non_negative);
// Means of the quantiles (and means) of several forecasts, weighted; of counts, quantiles at the
// nearest whole number.
SeriesForecast Combine(const std::vector<const SeriesForecast*>& parts,
                       const std::vector<double>& weights, bool counts = false);

}  // namespace ferrule::plan
