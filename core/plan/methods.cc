#include "core/plan/methods.h"

#include <algorithm>

#include "core/plan/airline.h"
#include "core/plan/baseline.h"
#include "core/plan/calendar.h"
#include "core/plan/intermittent.h"
#include "core/plan/smoothing.h"

namespace ferrule::plan {
namespace {

bool AllPositive(const Series& series) {
  return std::all_of(series.values.begin(), series.values.end(), [](double y) { return y > 0; });
}

double EmptyShare(const Series& series) {
  if (series.values.empty()) return 1;
  const auto empty = std::count(series.values.begin(), series.values.end(), 0.0);
  return static_cast<double>(empty) / static_cast<double>(series.values.size());
}

SeriesForecast TooShortToSmooth(const Series& series, int horizon) {
  SeriesForecast plain = ForecastSeasonalNaive(series, horizon);
  plain.basis = "too short to smooth: " + plain.basis;
  return plain;
}

SeriesForecast Smoothed(const Series& series, int horizon) {
  const std::vector<SmoothingFit> fits = LikelySmoothings(series);
  if (fits.empty()) return TooShortToSmooth(series, horizon);
  return ForecastSmoothings(fits, horizon, IsNonNegative(series));
}

// The mean of the fits that are usable, those with errors in proportion together as much as those
// with errors of one size: few cycles do not tell which errs less. On 28 series of R's packages the
// mean was nearer than each alone.
SeriesForecast MeanOf(const std::vector<SmoothingFit>& growing,
                      const std::vector<SmoothingFit>& even, const Series& series, int horizon) {
  std::vector<SeriesForecast> forecasts;
  std::vector<double> weights;
  for (const std::vector<SmoothingFit>* kind : {&growing, &even})
    for (const SmoothingFit& fit : *kind) {
      if (!fit.usable) continue;
      forecasts.push_back(ForecastSmoothing(fit, horizon, IsNonNegative(series), series.values));
      weights.push_back(1 / static_cast<double>(kind->size()));
    }
  if (forecasts.empty()) return TooShortToSmooth(series, horizon);
  std::vector<const SeriesForecast*> each;
  for (const SeriesForecast& forecast : forecasts) each.push_back(&forecast);
  return Combine(each, weights);
}

SeriesForecast HoltWintersSum(const Series& series, int horizon) {
  SmoothingModel model{Part::kAdditive, Part::kAdditive, false, Part::kAdditive,
                       std::max(2, series.season)};
  const std::vector<double>& y = series.values;
  const std::vector<SmoothingFit> even = {FitHoltWinters(model, y, HoltWintersFit::kNear),
                                          FitHoltWinters(model, y, HoltWintersFit::kNearAndFar)};
  model.error = Part::kMultiplicative;
  std::vector<SmoothingFit> growing;
  if (AllPositive(series)) growing.push_back(FitHoltWinters(model, y, HoltWintersFit::kNearAndFar));
  return MeanOf(growing, even, series, horizon);
}

// Seasonal ratios fitted with the weights hardly move later, those of all cycles do.
SeriesForecast HoltWintersRatio(const Series& series, int horizon) {
  if (!AllPositive(series)) return TooShortToSmooth(series, horizon);
  SmoothingModel model{Part::kMultiplicative, Part::kAdditive, false, Part::kMultiplicative,
                       std::max(2, series.season)};
  const std::vector<double>& y = series.values;
  const std::vector<SmoothingFit> growing = {FitHoltWinters(model, y, HoltWintersFit::kWeights)};
  model.error = Part::kAdditive;
  const std::vector<SmoothingFit> even = {FitHoltWinters(model, y, HoltWintersFit::kNear),
                                          FitHoltWinters(model, y, HoltWintersFit::kNearAndFar)};
  return MeanOf(growing, even, series, horizon);
}

}  // namespace

std::string_view Name(Method method) {
  switch (method) {
    case Method::kSeasonalNaive:
      return "seasonal-naive";
    case Method::kSmoothing:
      return "smoothing";
    case Method::kHoltWintersSum:
      return "holt-winters-sum";
    case Method::kHoltWintersRatio:
      return "holt-winters-ratio";
    case Method::kTheta:
      return "theta";
    case Method::kAirline:
      return "airline";
    case Method::kTogether:
      return "holt-winters-with-airline";
    case Method::kCalendar:
      return "calendar";
    case Method::kCroston:
      return "croston";
    case Method::kSyntetosBoylan:
      return "syntetos-boylan";
    case Method::kTsb:
      return "tsb";
    case Method::kMeanRate:
      return "mean-rate";
    case Method::kSmoothedRate:
      return "smoothed-rate";
  }
  return "";
}

Family FamilyOf(Method method) {
  switch (method) {
    case Method::kSeasonalNaive:
      return Family::kNaive;
    case Method::kSmoothing:
    case Method::kHoltWintersSum:
    case Method::kHoltWintersRatio:
      return Family::kSmoothing;
    case Method::kTheta:
      return Family::kTheta;
    case Method::kAirline:
      return Family::kDifferences;
    case Method::kTogether:
      return Family::kTogether;
    case Method::kCalendar:
      return Family::kCalendar;
    case Method::kCroston:
    case Method::kSyntetosBoylan:
    case Method::kTsb:
    case Method::kMeanRate:
    case Method::kSmoothedRate:
      return Family::kRate;
  }
  return Family::kNaive;
}

bool IsRare(const Series& series) { return IsCount(series) && EmptyShare(series) > .15; }

std::vector<Method> SuitableMethods(const Series& series) {
  std::vector<Method> methods = {Method::kSeasonalNaive};
  const bool counts = IsCount(series), empty = IsRare(series);
  const size_t n = series.values.size(), cycle = static_cast<size_t>(std::max(1, series.season));
  if (n >= 8) methods.push_back(Method::kSmoothing);
  if (n >= 8) methods.push_back(Method::kTheta);
  if (n >= 8 && IsNonNegative(series)) methods.push_back(Method::kCalendar);
  if (cycle > 1 && cycle <= 24 && n >= 2 * cycle + 4 && !empty) {
    methods.push_back(Method::kHoltWintersSum);
    methods.push_back(Method::kAirline);
    if (AllPositive(series)) methods.push_back(Method::kHoltWintersRatio);
    methods.push_back(Method::kTogether);
  }
  if (empty)
    methods.insert(methods.end(), {Method::kCroston, Method::kSyntetosBoylan, Method::kTsb});
  if (counts) methods.insert(methods.end(), {Method::kMeanRate, Method::kSmoothedRate});
  return methods;
}

std::vector<Method> PartsOfTogether(const Series& series) {
  std::vector<Method> parts = {Method::kHoltWintersSum, Method::kAirline};
  if (AllPositive(series)) parts.push_back(Method::kHoltWintersRatio);
  return parts;
}

SeriesForecast ForecastBy(Method method, const Series& series, int horizon) {
  switch (method) {
    case Method::kSeasonalNaive:
      return ForecastSeasonalNaive(series, horizon);
    case Method::kSmoothing:
      return Smoothed(series, horizon);
    case Method::kHoltWintersSum:
      return HoltWintersSum(series, horizon);
    case Method::kHoltWintersRatio:
      return HoltWintersRatio(series, horizon);
    case Method::kTheta:
      return ForecastTheta(series, horizon);
    case Method::kAirline:
      return ForecastAirline(series, horizon);
    case Method::kTogether: {
      std::vector<SeriesForecast> parts;
      for (Method part : PartsOfTogether(series))
        parts.push_back(ForecastBy(part, series, horizon));
      std::vector<const SeriesForecast*> each;
      for (const SeriesForecast& part : parts) each.push_back(&part);
      return Combine(each, std::vector<double>(each.size(), 1), IsCount(series));
    }
    case Method::kCalendar:
      return ForecastCalendar(series, horizon);
    case Method::kCroston:
      return ForecastCroston(series, horizon, Intermittent::kCroston);
    case Method::kSyntetosBoylan:
      return ForecastCroston(series, horizon, Intermittent::kSyntetosBoylan);
    case Method::kTsb:
      return ForecastTsb(series, horizon);
    case Method::kMeanRate:
      return ForecastMeanRate(series, horizon);
    case Method::kSmoothedRate:
      return ForecastSmoothedRate(series, horizon);
  }
  return {};
}

}  // namespace ferrule::plan
