// How good forecasts of units in use were, by branch, class and days ahead.
#pragma once

#include <array>
#include <cstdint>
#include <map>
#include <string>
#include <tuple>
#include <vector>

#include "core/plan/forecast.h"
#include "core/plan/scores.h"
#include "ferrule/v1/plan_service.pb.h"

namespace ferrule::outlook {

class ScoreBook {
 public:
  // One forecast of one day and what came. `naive`: units in use on the latest day before the
  // origin with the same weekday; `scale`: the mean step over a week before the origin, 0 when not
  // known.
  struct Case {
    std::string branch, device_class;
    int ahead = 1;
    plan::StepForecast forecast;
    double actual = 0;
    double naive = 0;
    double scale = 0;
  };
  void Add(const Case& one);
  // F(y - 1) and F(y) of the day by which the bounds are judged.
  void AddTransform(const plan::TransformPair& pair) { transforms_.push_back(pair); }

  // Rows, and whether mean and bounds can be trusted, in sentences.
  v1::ForecastScores Scores() const;

 private:
  struct Sums {
    int64_t cases = 0, scaled = 0;
    double error = 0, naive_error = 0, actual = 0, bias = 0;
    double loss = 0, naive_loss = 0;
    int64_t inside_80 = 0, inside_95 = 0, below_q95 = 0;
  };
  std::map<std::tuple<std::string, std::string, int>, Sums> sums_;
  std::vector<plan::TransformPair> transforms_;
};

// Bands of days ahead: their first days; each reaches to the next.
inline constexpr std::array<int, 5> kBandFrom = {1, 8, 15, 29, 57};

}  // namespace ferrule::outlook
