#include "core/plan/calendar.h"

#include <gtest/gtest.h>

#include <cmath>

#include "core/plan/random.h"

namespace ferrule::plan {
namespace {

TEST(CalendarOfDemand, WeekdaysCountFromMonday) {
  EXPECT_EQ(Weekday(0), 3);   // 1970-01-01, a Thursday
  EXPECT_EQ(Weekday(-3), 0);  // the Monday before
  EXPECT_EQ(Weekday(4), 0);
}

TEST(CalendarOfDemand, WeekendsAndHolidaysAreLearned) {
  Series series{{}, 7, 4, {}};  // from a Monday on
  Random random(5);
  for (int t = 0; t < 750; ++t) {
    const bool closed = t % 7 >= 5 || t % 50 == 0;
    series.holiday.push_back(t % 50 == 0);
    if (t < 700) series.values.push_back(closed ? 0 : static_cast<double>(random.Poisson(8)));
  }
  const SeriesForecast forecast = ForecastCalendar(series, 28);
  ASSERT_EQ(forecast.steps.size(), 28u);
  for (int h = 0; h < 28; ++h) {
    const bool closed = (700 + h) % 7 >= 5 || (700 + h) % 50 == 0;
    EXPECT_NEAR(forecast.steps[static_cast<size_t>(h)].mean, closed ? 0 : 8, closed ? .6 : 1.6)
        << h;
  }
}

TEST(CalendarOfDemand, ClosedDaysAreLeftOutRatherThanZero) {
  CalendarShape shape;
  shape.steps_per_year = 0;
  shape.growth = false;
  std::vector<double> counts, exposure;
  for (int t = 0; t < 100; ++t) {
    counts.push_back(t < 50 ? 6 : 0);
    exposure.push_back(t < 50 ? 1 : 0);
  }
  const auto model = CalendarModel::Fit(shape, counts, exposure, 1000);
  ASSERT_TRUE(model.ok());
  EXPECT_NEAR(model->Expected(100), 6, 1e-3);
}

TEST(CalendarOfDemand, AShortHistoryStillAnswers) {
  for (size_t n : {0u, 1u, 7u, 8u, 30u})
    for (double y : {0.0, 3.0}) {
      const SeriesForecast f = ForecastCalendar({std::vector<double>(n, y), 7, 4, {}}, 10);
      ASSERT_EQ(f.steps.size(), 10u);
      for (const StepForecast& s : f.steps) EXPECT_TRUE(std::isfinite(s.quantiles[6]));
    }
}

TEST(CalendarOfDemand, DoubtGrowsWhereTheLevelWanders) {
  CalendarShape shape;
  shape.first_day = 4;
  shape.daily = true;
  std::vector<double> counts;
  Random random(8);
  for (int t = 0; t < 900; ++t) counts.push_back(static_cast<double>(random.Poisson(3)));
  const auto calm = CalendarModel::Fit(shape, counts, {}, 900);
  shape.slow_dispersion = 5;
  const auto wandering = CalendarModel::Fit(shape, counts, {}, 900);
  ASSERT_TRUE(calm.ok() && wandering.ok());
  // 2,700 orders: level, four effects of the season and a growth at the edge of what was seen.
  EXPECT_GT(calm->LogCovariance(920, 920), 1 / 2700.0);
  EXPECT_LT(calm->LogCovariance(920, 920), 20 / 2700.0);
  EXPECT_GT(wandering->LogCovariance(920, 920), 2 * calm->LogCovariance(920, 920));
  EXPECT_LT(calm->LogCovariance(920, 100), calm->LogCovariance(920, 920));
  EXPECT_GT(wandering->SeasonVariance(), calm->SeasonVariance());
  EXPECT_GT(wandering->GrowthVariance(), calm->GrowthVariance());
  shape.steps_per_year = 0;
  shape.growth = false;
  const auto plain = CalendarModel::Fit(shape, counts, {}, 900);
  EXPECT_EQ(plain->SeasonVariance(), 0);
  EXPECT_EQ(plain->GrowthVariance(), 0);
}

}  // namespace
}  // namespace ferrule::plan
