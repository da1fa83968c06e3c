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

TEST(CalendarOfDemand, EvidenceIsForThePatternThatIsThere) {
  CalendarShape shape;
  shape.first_day = 4;
  shape.daily = true;
  CalendarShape none = shape;
  none.doubt.weekday = none.doubt.season = none.doubt.growth = 625;
  for (bool pattern : {false, true}) {
    std::vector<double> counts;
    Random random(9);
    for (int t = 0; t < 1000; ++t)
      counts.push_back(static_cast<double>(random.Poisson(pattern && t % 7 >= 5 ? .5 : 2)));
    const auto open = CalendarModel::Fit(shape, counts, {}, 1000);
    const auto closed = CalendarModel::Fit(none, counts, {}, 1000);
    ASSERT_TRUE(open.ok() && closed.ok());
    EXPECT_EQ(open->LogEvidence() > closed->LogEvidence(), pattern);
    EXPECT_NEAR(open->Scatter(), 1, .15);  // of independent counts
  }
}

// The probability of Poisson counts at one rate, with a prior on its log, by adding up over a fine
// grid of rates; Laplace's approximation is good to a few hundredths at sixty counts.
TEST(CalendarOfDemand, EvidenceIsTheIntegralOverTheEffects) {
  CalendarShape shape;
  shape.steps_per_year = 0;
  shape.cycle = 2;
  shape.growth = false;
  const std::vector<double> counts = {3, 7, 4, 9, 2, 6, 5, 8, 3, 7, 1, 6};
  const auto integral = [&](double precision) {
    double sum = 0;
    for (double a = 0; a < 3; a += .01)
      for (double b = -2; b < 3; b += .01) {
        double log = -.5 * precision * b * b - .5 * 1e-4 * a * a + .5 * std::log(precision);
        for (size_t t = 0; t < counts.size(); ++t) {
          const double mean = std::exp(a + (t % 2 == 1 ? b : 0));
          log += counts[t] * std::log(mean) - mean;
        }
        sum += std::exp(log) * 1e-4;
      }
    return std::log(sum);
  };
  const auto evidence = [&](double surer) {
    shape.doubt.season = surer;
    return CalendarModel::Fit(shape, counts, {}, 100)->LogEvidence();
  };
  // Of the usual precision, 4, and of a hundred.
  EXPECT_NEAR(evidence(1) - evidence(25), integral(4) - integral(100), .05);
}

// The quadratic at one fit stands for fits with other doubts and another dispersion.
TEST(CalendarOfDemand, OtherDoubtsAreWeighedWithoutFittingAnew) {
  for (const double season : {0., .1, .3}) {
    CalendarShape shape;
    shape.first_day = 4;
    shape.daily = true;
    Random random(9);
    std::vector<double> counts;
    for (int t = 0; t < 1100; ++t)
      counts.push_back(
          static_cast<double>(random.Poisson(2 * std::exp(season * std::sin(t / 58.13)))));
    const auto usual = CalendarModel::Fit(shape, counts, {}, counts.size());
    ASSERT_TRUE(usual.ok());
    for (const double dispersion : {1., 2.5}) {
      const auto anew = [&](const CalendarDoubt& doubt) {
        CalendarShape other = shape;
        other.dispersion = dispersion;
        other.doubt = doubt;
        return CalendarModel::Fit(other, counts, {}, counts.size())->LogEvidence();
      };
      for (const CalendarDoubt& doubt :
           {CalendarDoubt{.season = 25}, CalendarDoubt{.growth = 625},
            CalendarDoubt{.season = 25, .growth = 25, .fine_season = 25}}) {
        const double exact = anew(doubt) - anew({});
        EXPECT_NEAR(usual->LogEvidence(doubt, dispersion) - usual->LogEvidence({}, dispersion),
                    exact, .05 + .05 * std::abs(exact))
            << season << " " << dispersion;
      }
    }
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
  EXPECT_NEAR(model->Expected(100).count, 6, 1e-3);
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
