#include "core/plan/champion.h"

#include <gtest/gtest.h>

#include <cmath>
#include <numbers>

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

TEST(ChampionOfMethods, TooShortAHistoryIsToldSo) {
  Backtest backtest({5, 4, 5, 7, .02});
  const Champion champion = backtest.At({{2, 0, 1}, 7, 0, {}});
  EXPECT_EQ(champion.method, Method::kMeanRate);
  EXPECT_FALSE(champion.forecast.basis.empty());
  EXPECT_EQ(champion.forecast.steps.size(), 5u);
}

}  // namespace
}  // namespace ferrule::plan
