#include "core/plan/smoothing.h"

#include <gtest/gtest.h>

#include <cmath>

namespace ferrule::plan {
namespace {

// Hyndman and Athanasopoulos, Forecasting: Principles and Practice (1st ed.), chapter 7: oil
// production, air passengers and tourist nights.
const std::vector<double> kOil = {446.6565229, 454.4733065, 455.662974,  423.6322388,
                                  456.2713279, 440.5880501, 425.3325201, 485.1494479,
                                  506.0481621, 526.7919833, 514.268889,  494.2110193};
const std::vector<double> kAir = {17.5534,   21.8601,   23.8866,   26.9293,   26.8885,
                                  28.8314,   30.0751,   30.9535,   30.1857,   31.5797,
                                  32.577569, 33.477398, 39.021581, 41.386432, 41.596552};
const std::vector<double> kNights = {
    41.727458, 24.04185,  32.328103, 37.328708, 46.213153, 29.346326, 36.48291,  42.977719,
    48.901525, 31.180221, 37.717881, 40.420211, 51.206863, 31.887228, 40.978263, 43.772491,
    55.558567, 33.850915, 42.076383, 45.642292, 59.76678,  35.191877, 44.319737, 47.913736};

TEST(Smoothing, SimpleSmoothingOfOil) {
  SmoothingState start;
  start.level = kOil[0];
  start.alpha = .2;
  EXPECT_NEAR(RunSmoothing({}, start, kOil).now.level, 484.802468, 1e-6);
  start.alpha = .6;
  EXPECT_NEAR(RunSmoothing({}, start, kOil).now.level, 501.837461, 1e-6);
  const SmoothingFit fit = FitSmoothing({}, kOil, Criterion::kSquares);
  ASSERT_TRUE(fit.usable);
  EXPECT_NEAR(fit.now.alpha, .892, 2e-3);
  EXPECT_NEAR(fit.now.Ahead({}, 1), 496.4935, .02);
}

TEST(Smoothing, LinearTrendOfAirPassengers) {
  const SmoothingModel model{Part::kAdditive, Part::kAdditive, false, Part::kNone, 1};
  SmoothingState start;
  start.alpha = .8;
  start.beta = .16;  // alpha times .2
  start.level = kAir[0];
  start.slope = kAir[1] - kAir[0];
  const SmoothingFit fit = RunSmoothing(model, start, kAir);
  EXPECT_NEAR(fit.now.level, 41.92041367235465, 1e-10);
  EXPECT_NEAR(fit.now.slope, 1.8365548183263811, 1e-10);
  const double want[] = {43.7569685, 45.5935233, 47.4300781, 49.2666329, 51.1031878};
  for (int h = 1; h <= 5; ++h) EXPECT_NEAR(fit.now.Ahead(model, h), want[h - 1], 1e-7);
}

// Computed from the recursions written out apart; start from the first two cycles.
TEST(Smoothing, SeasonsWithGivenWeights) {
  for (bool ratio : {false, true}) {
    const SmoothingModel model{Part::kAdditive, Part::kAdditive, false,
                               ratio ? Part::kMultiplicative : Part::kAdditive, 4};
    SmoothingState start;
    start.alpha = .5, start.beta = .05, start.gamma = .2;
    for (size_t i = 0; i < 4; ++i) {
      start.level += kNights[i] / 4;
      start.slope += (kNights[i + 4] - kNights[i]) / 16;
    }
    for (size_t i = 0; i < 4; ++i)
      start.season.push_back(ratio ? kNights[i] / start.level : kNights[i] - start.level);
    const SmoothingFit fit = RunSmoothing(model, start, kNights);
    EXPECT_NEAR(fit.sum_squares, ratio ? 124.881223 : 122.821615, 1e-5);
    EXPECT_NEAR(fit.now.level, ratio ? 47.793560 : 47.371836, 1e-6);
    EXPECT_NEAR(fit.now.Ahead(model, 1), ratio ? 60.617570 : 58.266738, 1e-6);
    EXPECT_NEAR(fit.now.Ahead(model, 8), ratio ? 53.176255 : 52.674688, 1e-6);
  }
}

TEST(Smoothing, ErrorsGrowAsTheClosedFormsSay) {  // R forecast 8.20 ets and the formula
  SmoothingState w;
  w.alpha = .6, w.beta = .12;
  const Part add = Part::kAdditive;
  EXPECT_NEAR(ErrorGrowth({}, w, 6)[5], 1.67332005307, 1e-11);
  EXPECT_NEAR(ErrorGrowth({add, add, false, Part::kNone, 1}, w, 6)[5], 2.39833275423, 1e-11);
  w.phi = .9;
  EXPECT_NEAR(ErrorGrowth({add, add, true, Part::kNone, 1}, w, 6)[4], 1.97234122204, 1e-11);
  w = {};
  w.alpha = .3, w.beta = .05, w.gamma = .2;
  EXPECT_NEAR(ErrorGrowth({add, add, false, add, 4}, w, 9)[8], 1.96723155729, 1e-11);
}

TEST(Smoothing, FittedSeasonIsAtLeastAsGoodAsAPublishedOne) {
  const SmoothingModel model{Part::kMultiplicative, Part::kAdditive, false, Part::kMultiplicative,
                             4};
  const SmoothingFit fit = FitSmoothing(model, kNights, Criterion::kSquares);
  ASSERT_TRUE(fit.usable);
  EXPECT_NEAR(fit.now.Ahead(model, 1) / 61.2308, 1, .015);  // R forecast 8.20 hw()
  EXPECT_NEAR(fit.now.Ahead(model, 2) / 37.3029, 1, .015);
  const SeriesForecast forecast = ForecastSmoothing(fit, 8, true);
  for (const StepForecast& s : forecast.steps)
    for (size_t q = 1; q < kLevels.size(); ++q) EXPECT_GE(s.quantiles[q], s.quantiles[q - 1]);
}

TEST(Smoothing, HoltWintersLeavesNoiseAlone) {
  const double pattern[] = {.6, 1.1, 1.5, .8}, noise[] = {1.1, .9, .95, 1.05, .92, 1.08, 1.03};
  std::vector<double> values;
  for (size_t t = 0; t < 32; ++t) values.push_back(100 * pattern[t % 4] * noise[t % 7]);
  const SmoothingModel model{Part::kMultiplicative, Part::kAdditive, false, Part::kMultiplicative,
                             4};
  const SmoothingFit fit = FitHoltWinters(model, values, HoltWintersFit::kWeights);
  ASSERT_TRUE(fit.usable);
  for (int h = 1; h <= 4; ++h)
    EXPECT_NEAR(fit.now.Ahead(model, h) / (100 * pattern[(h - 1) % 4]), 1, .07) << h;
  const SmoothingModel sum{Part::kAdditive, Part::kAdditive, false, Part::kAdditive, 4};
  std::vector<double> line;
  for (size_t t = 0; t < 24; ++t)
    line.push_back(50 + 2.0 * static_cast<double>(t) + (t % 4 == 1 ? 9 : -3));
  for (HoltWintersFit how :
       {HoltWintersFit::kWeights, HoltWintersFit::kNear, HoltWintersFit::kNearAndFar}) {
    const SmoothingFit straight = FitHoltWinters(sum, line, how);
    ASSERT_TRUE(straight.usable);
    for (int h = 1; h <= 8; ++h)
      EXPECT_NEAR(straight.now.Ahead(sum, h), 50 + 2 * (23 + h) + ((23 + h) % 4 == 1 ? 9 : -3),
                  1e-2);
    EXPECT_FALSE(FitHoltWinters(sum, {1, 2, 3}, how).usable);
  }
}

TEST(Smoothing, BoundsFollowTheErrorsSeenFarAhead) {
  // A level that the fit holds for still, yet that moved: errors far ahead were wider than one
  // step's would say.
  std::vector<double> values;
  for (size_t t = 0; t < 48; ++t) values.push_back(100 + (t / 8 % 2 == 0 ? 6.0 : -6.0));
  SmoothingState start;
  start.level = 100;
  start.alpha = .6;
  const SmoothingFit fit = RunSmoothing({}, start, values);
  const SeriesForecast plain = ForecastSmoothing(fit, 8, true),
                       seen = ForecastSmoothing(fit, 8, true, values);
  double squares = 0, variance = 0;
  for (size_t h = 1; h <= 8; ++h) {
    SmoothingState s = start;
    double sum = 0, count = 0;
    for (size_t t = 0; t + h <= values.size(); ++t) {
      sum += (values[t + h - 1] - s.level) * (values[t + h - 1] - s.level);
      count += 1;
      s.Observe({}, values[t]);
    }
    squares += sum / count;
    variance += plain.steps[h - 1].variance;
  }
  ASSERT_GT(squares, variance);
  for (size_t h = 0; h < 8; ++h) {
    EXPECT_NEAR(seen.steps[h].variance / plain.steps[h].variance, std::sqrt(squares / variance),
                1e-9);
    EXPECT_EQ(seen.steps[h].mean, plain.steps[h].mean);
    EXPECT_GT(seen.steps[h].quantiles[6], plain.steps[h].quantiles[6]);
  }
  // Noise about a level that never moves says nothing against the bounds.
  for (size_t t = 0; t < 48; ++t) values[t] = 100 + (t % 2 == 0 ? 3.0 : -3.0);
  const SmoothingFit still = RunSmoothing({}, start, values);
  EXPECT_EQ(ForecastSmoothing(still, 8, true, values).steps[7].variance,
            ForecastSmoothing(still, 8, true).steps[7].variance);
}

TEST(Smoothing, LevelIsNotTakenForOneThatNeverMoves) {
  // Six cycles of an even level and a sure season: by squares alone the weight of the level is 0.
  const double pattern[] = {-8, 3, 9, -4}, noise[] = {1.5, -1, .5, -.5, -1.5, 1, 0};
  std::vector<double> values;
  for (size_t t = 0; t < 24; ++t) values.push_back(100 + pattern[t % 4] + noise[t % 7]);
  const SmoothingModel sum{Part::kAdditive, Part::kAdditive, false, Part::kAdditive, 4};
  const SmoothingFit least = FitSmoothing(sum, values, Criterion::kSquares);
  ASSERT_TRUE(least.usable);
  EXPECT_LT(least.now.alpha, .01);
  const SmoothingFit fit = FitHoltWinters(sum, values, HoltWintersFit::kNear);
  ASSERT_TRUE(fit.usable);
  EXPECT_GT(fit.now.alpha, .02);
  EXPECT_LT(fit.now.alpha, .5);
}

TEST(Smoothing, TooShortASeriesIsNotFitted) {
  EXPECT_FALSE(FitSmoothing({}, {}, Criterion::kSquares).usable);
  EXPECT_FALSE(FitSmoothing({}, {3}, Criterion::kSquares).usable);
  EXPECT_FALSE(LikelySmoothings({std::vector<double>(12, 0.0), 7, 0, {}}).empty());
  EXPECT_TRUE(LikelySmoothings({{3}, 7, 0, {}}).empty());
}

}  // namespace
}  // namespace ferrule::plan
