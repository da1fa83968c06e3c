#include "core/plan/champion.h"

#include <gtest/gtest.h>

#include <cmath>
#include <map>
#include <numbers>
#include <utility>

#include "core/plan/random.h"

namespace ferrule::plan {
namespace {

TEST(ChampionOfMethods, ASeasonIsFoundByTheMethodsThatKnowOne) {
  Series series{{}, 12, 0, {}};
  Random random(3);
  for (int t = 0; t < 96; ++t)
    series.values.push_back(100 + 40 * std::sin(t * std::numbers::pi / 6) + random.Normal());
  Backtest backtest({6, 5, 3, 1, .02});
  const Champion champion = backtest.At(series);
  EXPECT_NE(champion.method, Method::kSmoothedRate);
  ASSERT_FALSE(champion.scores.empty());
  EXPECT_LT(champion.scores[0].loss, .2);
  for (int h = 0; h < 6; ++h)
    EXPECT_NEAR(champion.forecast.steps[static_cast<size_t>(h)].mean,
                100 + 40 * std::sin((96 + h) * std::numbers::pi / 6), 6);
}

TEST(ChampionOfMethods, WhatComesLaterChangesNothing) {
  Series series{{}, 1, 0, {}};
  Random random(4);
  for (int t = 0; t < 80; ++t) series.values.push_back(static_cast<double>(random.Poisson(9)));
  Backtest first({5, 4, 5, 1, .02}), second({5, 4, 5, 1, .02});
  const Champion a = first.At(series);
  const Champion b = second.At(series);
  EXPECT_EQ(a.method, b.method);
  EXPECT_EQ(a.forecast.steps[4].quantiles, b.forecast.steps[4].quantiles);
}

TEST(ChampionOfMethods, AveragesNoMoreThanOneOfAKind) {
  Series series{{}, 1, 0, {}};
  Random random(6);
  for (int t = 0; t < 120; ++t) series.values.push_back(static_cast<double>(random.Poisson(60)));
  Backtest backtest(PlanOfBacktest(1, 6, 1));
  const Champion champion = backtest.At(series);
  ASSERT_GE(champion.averaged.size(), 2u);
  ASSERT_LE(champion.averaged.size(), 3u);
  EXPECT_EQ(champion.averaged[0], champion.scores[0].method);
  for (size_t i = 1; i < champion.averaged.size(); ++i)
    for (size_t j = 0; j < i; ++j)
      EXPECT_NE(FamilyOf(champion.averaged[i]), FamilyOf(champion.averaged[j]));
  for (const StepForecast& step : champion.forecast.steps)
    for (double q : step.quantiles) EXPECT_EQ(q, std::floor(q));  // whole counts
}

// With a season the mean of the methods made for one stands, as long as no other is surely better.
TEST(ChampionOfMethods, WithASeasonItsMethodsStandTogether) {
  Series series{{}, 12, 0, {}};
  Random random(6);
  double level = 60;
  for (int t = 0; t < 120; ++t) {
    level *= std::exp(.01 + .05 * random.Normal());
    series.values.push_back(level * (1 + .3 * std::sin(t * std::numbers::pi / 6)));
  }
  Backtest backtest(PlanOfBacktest(12, 6, 12));
  const Champion champion = backtest.At(series);
  EXPECT_EQ(champion.method, Method::kTogether);
  EXPECT_EQ(champion.averaged, std::vector<Method>{Method::kTogether});
  const std::vector<Method> parts = PartsOfTogether(series);
  ASSERT_EQ(parts.size(), 3u);
  for (size_t h = 0; h < 6; ++h) {
    double mean = 0, high = 0;
    for (Method part : parts) {
      const StepForecast step = ForecastBy(part, series, 6).steps[h];
      mean += step.mean / 3, high += step.quantiles[5] / 3;
    }
    EXPECT_NEAR(champion.forecast.steps[h].mean, mean, 1e-9);
    EXPECT_NEAR(champion.forecast.steps[h].quantiles[5], high, 1e-9);
  }
}

// Days with a holiday every eleventh day, of which the calendar alone knows.
TEST(ChampionOfMethods, WhatIsSurelyBetterComesBeforeTheSeason) {
  Series series{{}, 7, 19'000, {}};
  Random random(9);
  for (int t = 0; t < 350; ++t) {
    series.holiday.push_back(t % 11 == 5 ? 1 : 0);
    if (t < 336)
      series.values.push_back(t % 11 == 5 ? 0 : static_cast<double>(1 + random.Poisson(20)));
  }
  Backtest backtest(PlanOfBacktest(7, 14, 7));
  const Champion champion = backtest.At(series);
  EXPECT_EQ(champion.method, Method::kCalendar);
  EXPECT_EQ(champion.averaged, std::vector<Method>{Method::kCalendar});
}

TEST(ChampionOfMethods, WhatIsSurelyWorseHasNoPart) {
  Series series{{}, 12, 0, {}};
  Random random(7);
  for (int t = 0; t < 140; ++t)  // nothing but the season, known to a hundredth
    series.values.push_back(100.5 + 40 * std::sin(t * std::numbers::pi / 6) +
                            .01 * random.Normal());
  Backtest backtest(PlanOfBacktest(12, 12, 1));
  const Champion champion = backtest.At(series);
  for (Method method : champion.averaged) {
    EXPECT_NE(method, Method::kMeanRate);
    EXPECT_NE(method, Method::kSmoothedRate);
  }
  EXPECT_NEAR(champion.forecast.steps[0].mean, 100.5 + 40 * std::sin(140 * std::numbers::pi / 6),
              .3);
}

TEST(ChampionOfMethods, PastOriginsSpanFourHorizonsAndAYear) {
  for (auto [season, year] : {std::pair{7, 365}, {52, 52}, {12, 12}, {4, 4}})
    for (int horizon : {1, 4, 12, 28, 91}) {
      const BacktestPlan plan = PlanOfBacktest(season, horizon, season);
      EXPECT_GE(plan.step * plan.origins, 4 * horizon);
      EXPECT_GE(plan.step * plan.origins, year);
      EXPECT_TRUE(season != 7 || plan.step % 7 == 0);  // origins on one weekday
      EXPECT_EQ(plan.horizon, horizon);
    }
}

// Orders are rare, but come in runs.
Series RareOrders(uint64_t seed) {
  Series series{{}, 1, 0, {}};
  Random random(seed);
  double rate = .02;
  for (int t = 0; t < 200; ++t) {
    if (random.Uniform() < .04) rate = random.Uniform() < .3 ? .6 : .02;
    series.values.push_back(static_cast<double>(random.Poisson(rate)));
  }
  return series;
}

TEST(ChampionOfMethods, SeriesAlikeTellWhatRareOrdersCannot) {
  const BacktestPlan plan = PlanOfBacktest(1, 8, 1);
  std::vector<std::vector<MethodScore>> alike;
  std::map<Method, double> mean;
  for (uint64_t seed = 1; seed <= 6; ++seed) {
    Backtest other(plan);
    alike.push_back(other.Scores(RareOrders(seed)));
    for (const MethodScore& score : alike.back()) mean[score.method] += score.loss / 7;
  }
  Series quiet{std::vector<double>(200, 0), 1, 0, {}};
  quiet.values[3] = quiet.values[90] = 1;
  ASSERT_TRUE(IsRare(quiet));
  Backtest own(plan);
  for (const MethodScore& score : own.Scores(quiet)) mean[score.method] += score.loss / 7;
  Backtest together(plan);
  const Champion champion = together.At(quiet, alike);
  ASSERT_FALSE(champion.scores.empty());
  for (const MethodScore& score : champion.scores) {
    EXPECT_NEAR(score.loss, mean[score.method], 1e-12) << Name(score.method);
    EXPECT_GE(score.loss, champion.scores[0].loss);
  }
  EXPECT_EQ(champion.method, champion.scores[0].method);
}

TEST(ChampionOfMethods, SeriesAlikeDoNotOutweighWhatASeriesShows) {
  Series often{{}, 1, 0, {}};
  Random random(9);
  for (int t = 0; t < 120; ++t) often.values.push_back(static_cast<double>(random.Poisson(9)));
  ASSERT_FALSE(IsRare(often));
  const BacktestPlan plan = PlanOfBacktest(1, 8, 1);
  Backtest alone(plan), beside(plan), other(plan);
  const std::vector<MethodScore> rare = other.Scores(RareOrders(2));
  EXPECT_EQ(beside.At(often, {rare}).scores[0].loss, alone.At(often).scores[0].loss);
}

// Windows of rare orders do not overlap: each order is scored once.
TEST(ChampionOfMethods, RareOrdersCountOnce) {
  for (int horizon : {1, 13, 28})
    for (int season : {1, 7, 52}) EXPECT_GE(PlanOfBacktest(season, horizon, 1).rare_step, horizon);
  EXPECT_EQ(PlanOfBacktest(7, 30, 1).rare_step, 35);  // on one weekday
  Series quiet{std::vector<double>(200, 0), 1, 0, {}};
  quiet.values[3] = quiet.values[195] = 1;
  Backtest backtest(PlanOfBacktest(1, 8, 1));
  for (const MethodScore& score : backtest.Scores(quiet)) {
    EXPECT_EQ(score.origins, static_cast<int>(score.losses.size()));
    EXPECT_GT(score.losses[0], 0);
    for (size_t k = 1; k < score.losses.size(); ++k) EXPECT_LT(score.losses[k], score.losses[0]);
  }
}

// A forecast without any error leaves no ratio of errors to weigh by.
TEST(ChampionOfMethods, AForecastWithoutErrorIsKept) {
  std::vector<double> values(80, 0);
  values[3] = 1, values[11] = 2;
  Backtest backtest(PlanOfBacktest(1, 5, 1));
  const Champion champion = backtest.At({values, 1, 0, {}});
  EXPECT_EQ(champion.forecast.steps.size(), 5u);
}

TEST(ChampionOfMethods, TooShortAHistoryIsToldSo) {
  Backtest backtest({5, 4, 5, 7, .02});
  const Champion champion = backtest.At({{2, 0, 1}, 7, 0, {}});
  EXPECT_EQ(champion.method, Method::kMeanRate);
  EXPECT_FALSE(champion.forecast.basis.empty());
  EXPECT_EQ(champion.forecast.steps.size(), 5u);
}

}  // namespace
}  // namespace ferrule::plan
