#include "core/outlook/forecast.h"

#include <cmath>

#include "gmock/gmock.h"
#include "gtest/gtest.h"
#include "tests/core/outlook/built_records.h"

namespace ferrule::outlook {
namespace {

using ::testing::HasSubstr;
using ::testing::Not;

v1::GetForecastResponse MustForecast(BuiltRecords& built, int64_t at_us,
                                     const v1::GetForecastRequest& request = {}) {
  const auto response = Forecast(built.AsOf(at_us), request, at_us);
  EXPECT_TRUE(response.ok()) << response.status();
  return *response;
}

void ExpectSound(const v1::ClassForecast& f) {
  for (const v1::ForecastDay& d : f.days()) {
    EXPECT_TRUE(std::isfinite(d.mean_units()) && d.mean_units() >= 0);
    EXPECT_NEAR(d.mean_units(), d.out_units() + d.booked_units() + d.to_come_units(),
                1e-6 + 1e-6 * d.mean_units());
    EXPECT_LE(d.low_95(), d.low_80());
    EXPECT_LE(d.low_80(), d.median());
    EXPECT_LE(d.median(), d.high_80());
    EXPECT_LE(d.high_80(), d.q95());
    EXPECT_LE(d.q95(), d.high_95());
    EXPECT_LE(d.high_95(), d.q99());
    EXPECT_TRUE(d.short_probability() >= 0 && d.short_probability() <= 1);
  }
  EXPECT_FALSE(f.basis().empty());
  EXPECT_TRUE(std::isfinite(f.risk().short_unit_days()));
  EXPECT_GE(f.risk().at_least_once_probability(), f.risk().worst_day_probability());
}

TEST(Forecast, OfASteadyBranchIsItsLoad) {
  BuiltRecords built;
  FillSteady(&built, 700, 16);
  const auto response = MustForecast(built, At(700));
  ASSERT_EQ(response.forecasts_size(), 1);
  const v1::ClassForecast& f = response.forecasts(0);
  ExpectSound(f);
  EXPECT_EQ(f.branch(), "north");
  EXPECT_EQ(f.device_class(), "knee");
  EXPECT_EQ(f.unit_count(), 16);
  EXPECT_EQ(f.days_size(), kUsualHorizon);
  EXPECT_EQ(f.past_days_size(), 56);
  // About five orders in two weeks, 23.5 days each: 8.4 units.
  for (const v1::ForecastDay& d : f.days()) EXPECT_NEAR(d.mean_units(), 8.4, 2.0);
  // What was is of the same size.
  EXPECT_NEAR(f.past_days(50).in_use_count(), 8.4, 3);
  EXPECT_LT(f.risk().worst_day_probability(), .05);
  EXPECT_FALSE(f.risk().has_first_short_date());
  EXPECT_GT(f.history_count(), 150);
}

TEST(Forecast, TooFewUnitsAreShortWithADateAndACause) {
  BuiltRecords built;
  FillSteady(&built, 700, 6);
  v1::GetForecastRequest request;
  request.set_explain(true);
  const auto response = MustForecast(built, At(700), request);
  const v1::ClassForecast& f = response.forecasts(0);
  ExpectSound(f);
  EXPECT_TRUE(f.risk().has_first_short_date());
  EXPECT_THAT(f.risk().first_short_cause(), HasSubstr("against 6 units"));
  EXPECT_GT(f.risk().at_least_once_probability(), .5);
  EXPECT_GT(f.risk().enough_units_count(), 6);
  ASSERT_GT(f.records_size(), 0);
  for (int i = 1; i < f.records_size(); ++i) {
    EXPECT_LE(f.records(i).worst_day_probability(), f.records(i - 1).worst_day_probability());
  }
}

TEST(Forecast, ADepotThatFellSilentIsSaidSo) {
  BuiltRecords built;
  FillSteady(&built, 700, 16);
  EXPECT_THAT(MustForecast(built, At(705)).forecasts(0).basis(),
              Not(HasSubstr("no unit or order")));
  EXPECT_THAT(MustForecast(built, At(760)).forecasts(0).basis(),
              HasSubstr("what happened since is not in it"));
}

TEST(Forecast, NothingRecordedIsNothingAnswered) {
  BuiltRecords built;
  EXPECT_EQ(MustForecast(built, At(5)).forecasts_size(), 0);
}

// A new branch, one rental, all still out, nothing but units, nothing but one order: a stated
// pooled answer with bounds.
TEST(Forecast, TooLittleDataIsAnsweredWithWideBounds) {
  for (int kind = 0; kind < 4; ++kind) {
    BuiltRecords built;
    if (kind != 3) built.Unit("K-1", 0);
    if (kind > 0) built.Order("R-1", 1, 5);
    if (kind == 2) built.HandOver("K-1", "R-1", At(5));
    const auto response = MustForecast(built, At(kind == 2 ? 40 : 3));
    ASSERT_EQ(response.forecasts_size(), 1) << kind;
    const v1::ClassForecast& f = response.forecasts(0);
    ExpectSound(f);
    EXPECT_THAT(f.basis(), HasSubstr("pooled")) << kind;
    // Never a silent nought; and with any order known the bounds reach beyond the mean.
    if (kind > 0) {
      EXPECT_GE(static_cast<double>(f.days(40).high_95()), f.days(40).mean_units()) << kind;
    }
    EXPECT_GT(f.days(40).mean_units(), 0) << kind;
  }
}

TEST(Forecast, AUnitLongOverdueMayStillComeBackOrNot) {
  BuiltRecords built;
  FillSteady(&built, 400, 16);
  built.Unit("K-late", 0);
  built.Order("R-late", 5, 10);
  built.HandOver("K-late", "R-late", At(10));
  const auto response = MustForecast(built, At(400));
  ExpectSound(response.forecasts(0));
  EXPECT_GT(response.forecasts(0).days(0).out_units(), .5);
}

TEST(Forecast, NothingKnownLaterIsUsed) {
  BuiltRecords one, other;
  for (BuiltRecords* built : {&one, &other}) FillSteady(built, 300, 16);
  other.Order("R-future", 250, 320);
  other.records.orders.back().steps.front().happened_us = At(310);  // taken later
  const auto a = Forecast(one.AsOf(At(300)), {}, At(300));
  const auto b = Forecast(other.AsOf(At(300)), {}, At(300));
  ASSERT_TRUE(a.ok() && b.ok());
  EXPECT_EQ(a->forecasts(0).days(30).mean_units(), b->forecasts(0).days(30).mean_units());
}

TEST(ForecastAsked, WrongNamesAndHorizonsAreTold) {
  BuiltRecords built;
  built.Unit("K-1", 0);
  const Records& records = built.AsOf(At(3));
  v1::GetForecastRequest request;
  request.set_branch("south");
  EXPECT_EQ(Forecast(records, request, At(3)).status().code(), absl::StatusCode::kNotFound);
  EXPECT_THAT(std::string(Forecast(records, request, At(3)).status().message()),
              HasSubstr("north, west"));
  request.set_branch("");
  request.set_device_class("toe");
  EXPECT_EQ(Forecast(records, request, At(3)).status().code(), absl::StatusCode::kNotFound);
  request.set_device_class("");
  request.set_horizon_days(366);
  EXPECT_EQ(Forecast(records, request, At(3)).status().code(), absl::StatusCode::kInvalidArgument);
  request.set_horizon_days(-1);
  EXPECT_EQ(Forecast(records, request, At(3)).status().code(), absl::StatusCode::kInvalidArgument);
}

}  // namespace
}  // namespace ferrule::outlook
