// What the calendar explains of a stream of counts or amounts: weekday, time of year, holidays
// and their neighbours, slow growth; then the level on top of it.
#pragma once

#include <cstdint>
#include <vector>

#include "absl/status/statusor.h"
#include "core/plan/forecast.h"
#include "core/plan/glm.h"
#include "core/plan/level.h"

namespace ferrule::plan {

// Day numbers count from 1970-01-01. 0 is Monday.
int Weekday(int64_t day);

// How many times surer than by their usual priors it is that the effects of a kind are none.
struct CalendarDoubt {
  double weekday = 1, season = 1, growth = 1, holiday = 1;
  double fine_season = 1;  // of what is finer than one wave a year, besides that of the season
};

// Which steps are what. Holidays are numbered from 1; 0 is no holiday. The same number every year
// lets a holiday differ from the others.
struct CalendarShape {
  int64_t first_day = 0;  // of step 0, for daily steps
  bool daily = false;
  double steps_per_year = 365.25;  // 0: no yearly cycle
  int harmonics = 2;
  double yearly_sd = .2;  // how large the yearly log effects may be before the data support it
  double growth_sd = .1;  // the same of the log growth per year
  // Variance over mean of the counts in what moves slowly, >= 1: where the level wanders for weeks,
  // a season or a growth is told far less surely than independent counts would tell it.
  double slow_dispersion = 1;
  // Effects are differences from a pattern of many, which the exposure has, and small therefore.
  bool pooled = false;
  int cycle = 1;  // one column per place in a short cycle (months), 1 for none
  bool growth = true;
  // Variance over mean of the observations about the calendar, against which the priors weigh; 0:
  // 1 for counts, told from the change between steps for amounts.
  double dispersion = 0;
  CalendarDoubt doubt;
  std::vector<int> holiday;  // per step, horizon included; empty for none
};

class CalendarModel {
 public:
  // Fits the first `counts.size()` steps; of these only the last `window` are used, and steps with
  // exposure 0 (closed) are left out. `exposure` may be empty. `near`, a fit of a like shape, only
  // makes it faster. Errors as FitCounts.
  static absl::StatusOr<CalendarModel> Fit(const CalendarShape& shape,
                                           const std::vector<double>& counts,
                                           const std::vector<double>& exposure, size_t window,
                                           const CalendarModel* near = nullptr);
  struct Mean {
    double count = 0;
    double steady = 0;  // without season and growth: as it is now, by weekday and holiday alone
  };
  // Expected count of any step within the shape, at exposure 1.
  Mean Expected(size_t step) const;
  // Covariance of the logs of two expected counts as far as level, season and growth are in doubt.
  double LogCovariance(size_t a, size_t b) const;
  // Greatest variance among the yearly effects, and that of the growth; 0 where there are none.
  double SeasonVariance() const;
  double GrowthVariance() const;
  // Variance over mean of the observations that were used, about what was expected of them, told
  // from one to the next: a level that wanders slowly is no scatter.
  double Scatter() const;
  // Log of the probability of the observations over all effects that the priors allow (Laplace's
  // approximation), up to a constant of the observations and their dispersion.
  double LogEvidence() const;
  // The same with other doubts and another dispersion of all counts, without fitting anew: the
  // observations' quadratic at the fit stands for them. Up to a constant of the fit and the
  // dispersion.
  double LogEvidence(const CalendarDoubt& doubt, double dispersion) const;

 private:
  CalendarShape shape_;
  CountFit fit_;
  std::vector<double> precision_;  // of the priors, as against one count
  std::vector<char> slow_;         // columns that move slowly
  double dispersion_ = 1, scatter_ = 0;
  double last_ = 0;
  size_t used_ = 0;
  int kinds_ = 0;  // of holidays
};

// A whole series: calendar, level, bounds.
SeriesForecast ForecastCalendar(const Series& series, int horizon);

}  // namespace ferrule::plan
