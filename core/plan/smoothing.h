// Exponential smoothing in its error-correction form: additive or multiplicative errors, trend
// none, additive or damped, season none, additive or multiplicative (Hyndman et al. 2008). The
// trend's weight is beta = alpha beta*, and the season is updated against the level before.
#pragma once

#include <array>
#include <vector>

#include "core/plan/forecast.h"

namespace ferrule::plan {

enum class Part { kNone, kAdditive, kMultiplicative };

struct SmoothingModel {
  Part error = Part::kAdditive;
  Part trend = Part::kNone;  // kNone or kAdditive
  bool damped = false;
  Part season = Part::kNone;
  int cycle = 1;  // steps per season, >= 2 when there is one
};

struct SmoothingState {
  double alpha = .5, beta = .05, gamma = .05, phi = 1;
  double level = 0, slope = 0;
  std::vector<double> season;  // season[0] belongs to the next step

  // What the next step and the h-th after it would be, h >= 1.
  double Ahead(const SmoothingModel& model, int h) const;
  // Moves on by one observation; returns its error (relative when errors are multiplicative).
  double Observe(const SmoothingModel& model, double y);
};

struct SmoothingFit {
  SmoothingModel model;
  SmoothingState start;    // before the first observation
  SmoothingState now;      // after the last
  double sum_squares = 0;  // of the errors y - yhat
  double sigma = 0;        // standard deviation of the errors of the model
  double log_likelihood = 0;
  double corrected_aic = 0;
  bool usable = false;  // false: too short, or not finite
};

// Runs the model from `start` over the values.
SmoothingFit RunSmoothing(const SmoothingModel& model, const SmoothingState& start,
                          const std::vector<double>& values);
// Fits weights and start by greatest likelihood, or by least squares of y - yhat.
enum class Criterion { kLikelihood, kSquares };
SmoothingFit FitSmoothing(const SmoothingModel& model, const std::vector<double>& values,
                          Criterion criterion);
// How the methods of Holt and Winters are fitted, by errors up to `cycle` steps ahead: those of one
// step alone favour weights that follow noise.
enum class HoltWintersFit {
  // Weights alone, from the season of all cycles, by least squares of all errors up to a cycle
  // ahead: with few cycles a start fitted too fits their noise.
  kWeights,
  // Start and weights, by mean squares one step ahead and by those of all errors up to a cycle
  // ahead: their logs count alike.
  kNearAndFar,
};
SmoothingFit FitHoltWinters(const SmoothingModel& model, const std::vector<double>& values,
                            HoltWintersFit how);
// Standard deviation of the error h steps ahead over sigma, for additive errors and no
// multiplicative part; h = 1..horizon.
std::vector<double> ErrorGrowth(const SmoothingModel& model, const SmoothingState& weights,
                                int horizon);
SeriesForecast ForecastSmoothing(const SmoothingFit& fit, int horizon, bool non_negative);

// The model of least corrected AIC among those that the series allows; with `plain`, of a level
// alone and a damped trend, both with errors of one size and without a season.
SmoothingFit SelectSmoothing(const Series& series, bool plain = false);

}  // namespace ferrule::plan
