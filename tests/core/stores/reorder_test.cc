#include "core/stores/reorder.h"

#include <gtest/gtest.h>

#include <vector>

namespace ferrule::stores {
namespace {

v1::StockItem Item(int lead, int review, int percent = 0) {
  v1::StockItem item;
  item.set_lead_time_days(lead);
  item.set_review_days(review);
  item.set_service_percent(percent);
  return item;
}

// A Poisson law with mean 10 has its 95 % quantile at 15, P(X <= 15) = 0.9513, and its 99 % one at
// 18, P(X <= 18) = 0.9928 (tables of the Poisson law; computed again for this test).
TEST(Reorder, PointIsTheQuantileOfTheUseOverLeadTimeAndReview) {
  // One piece on every other day: mean 0.5, variance 0.25, so the law is Poisson.
  std::vector<int64_t> daily;
  for (int i = 0; i < 60; ++i) daily.push_back(i % 2);
  const ReorderLevels levels = LevelsOf(daily, Item(14, 6));
  EXPECT_EQ(levels.cover_days, 20);
  EXPECT_EQ(levels.point, 15);
  EXPECT_EQ(levels.up_to, 18);  // and half a piece a day over six days of review
  EXPECT_EQ(LevelsOf(daily, Item(14, 6, 99)).point, 18);
}

TEST(Reorder, UseInLumpsNeedsMore) {
  std::vector<int64_t> even(60, 1);
  std::vector<int64_t> lumps(60, 0);
  for (int i = 0; i < 60; i += 10) lumps[static_cast<size_t>(i)] = 10;
  EXPECT_GT(LevelsOf(lumps, Item(10, 0)).point, LevelsOf(even, Item(10, 0)).point);
}

TEST(Reorder, WithoutUseNothingIsOrdered) {
  const ReorderLevels levels = LevelsOf(std::vector<int64_t>(30, 0), Item(14, 7));
  EXPECT_EQ(levels.point, 0);
  EXPECT_EQ(OrderCount(levels, 0, 1), 0);
  EXPECT_EQ(LevelsOf({}, Item(0, 0)).cover_days, 1);
}

TEST(Reorder, ComesInWholePackages) {
  const ReorderLevels levels{.cover_days = 20, .point = 15, .up_to = 18};
  EXPECT_EQ(OrderCount(levels, 16, 10), 0);
  EXPECT_EQ(OrderCount(levels, 15, 10), 10);
  EXPECT_EQ(OrderCount(levels, 5, 10), 20);
  EXPECT_EQ(OrderCount(levels, 5, 0), 13);
  EXPECT_EQ(OrderCount(levels, -2, 1), 20);
}

}  // namespace
}  // namespace ferrule::stores
