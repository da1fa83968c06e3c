// Tests core/outlook/scores.cc, and of core/outlook/backtest.cc the diary.
#include "core/outlook/scores.h"

#include "core/outlook/backtest.h"
#include "gmock/gmock.h"
#include "google/protobuf/text_format.h"
#include "gtest/gtest.h"
#include "tests/core/outlook/built_records.h"

namespace ferrule::outlook {
namespace {

using ::testing::HasSubstr;

// The check of the trade: actual 6 4 7 5 8 6 3 9 against 5.5 flat: MAE 1.625, WAPE 27.1 %, bias
// -8.3 % of the actual (the forecast is low), naive error 3.0, ratio 0.542 (computed by hand).
TEST(Scores, HaveTheHandComputedValues) {
  ScoreBook book;
  const double actual[] = {6, 4, 7, 5, 8, 6, 3, 9};
  for (const double y : actual) {
    ScoreBook::Case one;
    one.branch = "north";
    one.device_class = "knee";
    one.forecast.mean = 5.5;
    one.forecast.quantiles = {2, 3, 5.5, 8, 9, 10, 11};
    one.actual = y;
    one.naive = y - 3;  // off by three each time
    one.scale = 3;
    book.Add(one);
  }
  const v1::ForecastScores scores = book.Scores();
  ASSERT_EQ(scores.rows_size(), 1);
  const v1::ScoreRow& row = scores.rows(0);
  EXPECT_EQ(row.case_count(), 8);
  EXPECT_NEAR(row.error_units(), 1.625, 1e-12);
  EXPECT_NEAR(row.naive_ratio(), .541666667, 1e-9);
  EXPECT_NEAR(row.weighted_error_share(), .270833333, 1e-9);
  EXPECT_NEAR(row.bias_share(), -.083333333, 1e-9);
  EXPECT_EQ(row.inside_80_share(), 7.0 / 8);
  EXPECT_EQ(row.inside_95_share(), 1);
  EXPECT_EQ(row.below_q95_share(), 1);
}

TEST(Scores, AreByBandAndSaySoWhenBiased) {
  ScoreBook book;
  for (int i = 0; i < 60; ++i) {
    ScoreBook::Case one;
    one.branch = "north";
    one.device_class = "knee";
    one.ahead = i < 30 ? 3 : 20;
    one.forecast.mean = 12;
    one.forecast.quantiles.fill(12);
    one.actual = 10;
    book.Add(one);
  }
  const v1::ForecastScores scores = book.Scores();
  ASSERT_EQ(scores.rows_size(), 2);
  EXPECT_EQ(scores.rows(0).from_ahead_days(), 1);
  EXPECT_EQ(scores.rows(0).through_ahead_days(), 7);
  EXPECT_EQ(scores.rows(1).from_ahead_days(), 15);
  ASSERT_GE(scores.texts_size(), 2);
  EXPECT_THAT(scores.texts(0), HasSubstr("20 % too high"));
}

TEST(Scores, OfNothingSaySo) {
  const v1::ForecastScores scores = ScoreBook().Scores();
  EXPECT_EQ(scores.rows_size(), 0);
  EXPECT_THAT(scores.texts(0), HasSubstr("nothing could be scored"));
}

TEST(Diary, IsScoredAgainstWhatCame) {
  BuiltRecords built;
  FillSteady(&built, 400, 16);
  v1::ForecastNoted noted;
  noted.set_branch("north");
  *noted.mutable_as_of_date() = time::FromDay(time::DayFromNumber(kDay0 + 350));
  v1::ClassForecastNoted& c = *noted.add_classes();
  c.set_device_class("knee");
  for (int d = 0; d < 80; ++d) {
    v1::ForecastDayNoted& day = *c.add_days();
    day.set_mean_units(9);
    day.set_low_95(3);
    day.set_low_80(5);
    day.set_median(9);
    day.set_high_80(13);
    day.set_q95(14);
    day.set_high_95(15);
    day.set_q99(16);
  }
  built.records.diary.push_back(noted);
  const auto response = ScoreDiary(built.AsOf(At(400)), {}, At(400));
  ASSERT_TRUE(response.ok()) << response.status();
  EXPECT_EQ(response->noted_count(), 1);
  int64_t cases = 0;
  for (const v1::ScoreRow& row : response->scores().rows()) cases += row.case_count();
  EXPECT_EQ(cases, 48);  // days 351 to 398: those that are over
  EXPECT_EQ(response->scores().rows(0).inside_95_share(), 1);
}

}  // namespace
}  // namespace ferrule::outlook
