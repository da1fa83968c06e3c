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
  // Moves on by one observation; returns its error (relative when errors are multiplicative), and
  // what was expected in its place.
  double Observe(const SmoothingModel& model, double y, double* one_ahead = nullptr);
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
// Fits weights and start by greatest likelihood, by that times priors of the weights, or by least
// squares of y - yhat. The priors are Beta(2, 2) of the level's weight where there is a season,
// which keeps it off 0 and 1: a level that was fitted as if it never moved is lost when it does;
// and Beta(1, 2) of the trend's weight beta*, which keeps it from following the last change alone.
enum class Criterion { kLikelihood, kPosterior, kSquares };
SmoothingFit FitSmoothing(const SmoothingModel& model, const std::vector<double>& values,
                          Criterion criterion);
// What the methods of Holt and Winters are fitted to; each errs in its own way. The priors are
// those of kPosterior, that of the trend where the start is fitted too.
enum class HoltWintersFit {
  // Weights alone, from the season of all cycles, by least squares of all errors up to a cycle
  // ahead: with few cycles a start fitted too fits their noise.
  kWeights,
  // Start and weights, by squares one step ahead.
  kNear,
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
// With `seen`, the values fitted to, bounds are wider where the errors up to `horizon` steps ahead
// were on those.
SeriesForecast ForecastSmoothing(const SmoothingFit& fit, int horizon, bool non_negative,
                                 const std::vector<double>& seen = {});

// The models that the series allows, by corrected AIC, the least first, without those so much worse
// that Akaike's weights (Burnham and Anderson 2002) leave them less than a twentieth of the
// first's. Fitted by likelihood; with a season, whose many starts take up what the level should
// follow, by kPosterior.
std::vector<SmoothingFit> LikelySmoothings(const Series& series);
// Their mean by Akaike's weights: it errs less than the first alone (Kolassa 2011).
SeriesForecast ForecastSmoothings(const std::vector<SmoothingFit>& fits, int horizon,
                                  bool non_negative);
// By corrected AIC of a level alone and a damped trend, both with errors of one size and without a
// season.
SmoothingFit SelectPlainSmoothing(const std::vector<double>& values);

}  // namespace ferrule::plan
