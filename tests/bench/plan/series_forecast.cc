// series_forecast DIR OUT.csv: forecasts every series of DIR/protocol.csv from every origin, by
// every suitable method and by the champion, with nothing but what was known at the origin, and
// prints the scaled pinball loss of each.

#include <algorithm>
#include <chrono>
#include <cstdio>
#include <cstdlib>
#include <fstream>
#include <iostream>
#include <map>
#include <set>
#include <string>

#include "absl/time/civil_time.h"
#include "core/plan/champion.h"
#include "core/plan/scores.h"
#include "tests/bench/plan/csv.h"

namespace ferrule::bench {
namespace {

using plan::kLevels;

// Public holidays of the United States as they are observed, and the eves that thin out a working
// day, numbered by kind.
int Holiday(absl::CivilDay day) {
  const auto weekday = absl::GetWeekday(day);
  const int month = day.month(), date = day.day();
  const bool monday = weekday == absl::Weekday::monday;
  if (month == 1 && date == 1) return 1;
  if (month == 1 && monday && date >= 15 && date <= 21) return 2;
  if (month == 2 && monday && date >= 15 && date <= 21) return 3;
  if (month == 5 && monday && date >= 25) return 4;
  if (month == 7 && date == 4) return 5;
  if (month == 9 && monday && date <= 7) return 6;
  if (month == 10 && monday && date >= 8 && date <= 14) return 7;
  if (month == 11 && date == 11) return 8;
  if (month == 11 && weekday == absl::Weekday::thursday && date >= 22 && date <= 28) return 9;
  if (month == 11 && weekday == absl::Weekday::friday && date >= 23 && date <= 29) return 10;
  if (month == 12 && date == 24) return 11;
  if (month == 12 && date == 25) return 12;
  if (month == 12 && date == 31) return 13;
  // On a Saturday the Friday before is off, on a Sunday the Monday after.
  if (weekday == absl::Weekday::friday || monday) {
    const absl::CivilDay other = monday ? day - 1 : day + 1;
    const bool fixed =
        (other.month() == 1 && other.day() == 1) || (other.month() == 7 && other.day() == 4) ||
        (other.month() == 11 && other.day() == 11) || (other.month() == 12 && other.day() == 25);
    if (fixed) return 14;
  }
  // The days between Christmas and New Year.
  if (month == 12 && date >= 26) return 15;
  return 0;
}

int SeasonOf(const std::string& kind) {
  if (kind == "monthly") return 12;
  if (kind == "weekly" || kind == "intermittent_w") return 52;
  if (kind == "quarterly") return 4;
  if (kind == "daily" || kind == "intermittent_d") return 7;
  return 1;
}

struct Score {
  double loss = 0;
  double in80 = 0, in95 = 0;
  int steps = 0;
};

class Run {
 public:
  explicit Run(std::ofstream& out) : out_(out) {
    out_ << "set,series,method,origin,h,mean,q2.5,q10,q50,q90,q95,q97.5,q99,fit_s\n";
    out_.precision(10);
  }

  void Set(const std::string& folder, const Table& protocol, size_t row) {
    const std::string set = protocol.At(row, "set");
    const Table table = ReadTable(folder + "/" + set + ".csv");
    std::map<std::string, plan::Series> all;
    const int season = SeasonOf(protocol.At(row, "kind"));
    for (size_t i = 0; i < table.rows.size(); ++i) {
      plan::Series& series = all[table.At(i, "series")];
      series.season = season;
      if (series.values.empty() && season == 7 && table.Has("date")) {
        const std::string& date = table.At(i, "date");
        const absl::CivilDay first(std::stoi(date.substr(0, 4)), std::stoi(date.substr(5, 2)),
                                   std::stoi(date.substr(8, 2)));
        series.first_day = first - absl::CivilDay(1970, 1, 1);
      }
      series.values.push_back(table.Number(i, "y"));
    }
    const auto number = [&](const char* name) {
      return static_cast<int>(protocol.Number(row, name));
    };
    const int h = number("h"), step = number("step"), lag = number("mase_lag");
    std::map<std::string, plan::Backtest> backtests;
    size_t longest = 0;
    for (auto& [name, whole] : all) {
      if (whole.first_day != 0)
        for (size_t t = 0; t < whole.values.size() + static_cast<size_t>(h); ++t)
          whole.holiday.push_back(
              Holiday(absl::CivilDay(1970, 1, 1) + whole.first_day + static_cast<int64_t>(t)));
      backtests.try_emplace(name, plan::PlanOfBacktest(season, h, lag));
      longest = std::max(longest, whole.values.size());
    }
    for (int origin = number("first_origin"); origin + h <= static_cast<int>(longest);
         origin += step) {
      std::map<std::string, plan::Series> known;
      for (const auto& [name, whole] : all) {
        if (origin + h > static_cast<int>(whole.values.size())) continue;
        plan::Series& series = known[name] = whole;
        series.values.resize(static_cast<size_t>(origin));
      }
      // What the set's other rare series show of the methods at this origin.
      std::map<std::string, std::vector<plan::MethodScore>> scores;
      for (const auto& [name, series] : known)
        if (plan::IsRare(series)) scores[name] = backtests.at(name).Scores(series);
      for (const auto& [name, series] : known) {
        plan::Backtest& backtest = backtests.at(name);
        for (plan::Method method : plan::SuitableMethods(series)) {
          const auto begin = std::chrono::steady_clock::now();
          const plan::SeriesForecast& forecast = backtest.Forecast(method, series);
          Write(set, name, std::string(plan::Name(method)), origin, forecast, begin, all.at(name),
                lag, h);
        }
        std::vector<std::vector<plan::MethodScore>> alike;
        for (const auto& [other, one] : scores)
          if (other != name) alike.push_back(one);
        const auto begin = std::chrono::steady_clock::now();
        const plan::Champion champion = backtest.At(series, alike);
        Write(set, name, "champion", origin, champion.forecast, begin, all.at(name), lag, h);
      }
    }
  }

  void Print() const {
    std::printf("%-10s %-20s %8s %7s %7s\n", "set", "method", "SPL", "cov80", "cov95");
    for (const auto& [key, by_series] : scores_) {
      double loss = 0, in80 = 0, in95 = 0, n = 0;
      for (const auto& [series, s] : by_series) {
        if (s.steps == 0) continue;
        loss += s.loss / s.steps, in80 += s.in80 / s.steps, in95 += s.in95 / s.steps, n += 1;
      }
      std::printf("%-10s %-20s %8.4f %7.3f %7.3f\n", key.first.c_str(), key.second.c_str(),
                  loss / n, in80 / n, in95 / n);
    }
  }

 private:
  void Write(const std::string& set, const std::string& series, const std::string& method,
             int origin, const plan::SeriesForecast& forecast,
             std::chrono::steady_clock::time_point begin, const plan::Series& whole, int lag,
             int horizon) {
    const double seconds =
        std::chrono::duration<double>(std::chrono::steady_clock::now() - begin).count();
    const std::vector<double> past(whole.values.begin(), whole.values.begin() + origin);
    const double scale = plan::NaiveScale(past, lag);
    Score& score = scores_[{set, method}][series];
    // A step without a forecast would be left out of the score.
    if (static_cast<int>(forecast.steps.size()) != horizon) {
      std::cerr << method << " has no forecast of " << series << " from " << origin << "\n";
      std::exit(1);
    }
    for (size_t i = 0; i < forecast.steps.size(); ++i) {
      const plan::StepForecast& s = forecast.steps[i];
      out_ << set << ',' << series << ',' << method << ',' << origin << ',' << i + 1 << ','
           << s.mean;
      for (double q : s.quantiles) out_ << ',' << q;
      out_ << ',' << seconds << '\n';
      const double y = whole.values[static_cast<size_t>(origin) + i];
      if (!(scale > 0)) continue;
      score.loss += plan::PinballLoss(y, s) / scale;
      score.in80 += y >= s.quantiles[1] && y <= s.quantiles[3];
      score.in95 += y >= s.quantiles[0] && y <= s.quantiles[5];
      ++score.steps;
    }
  }

  std::ofstream& out_;
  std::map<std::pair<std::string, std::string>, std::map<std::string, Score>> scores_;
};

}  // namespace
}  // namespace ferrule::bench

int main(int argc, char** argv) {
  if (argc < 3) {
    std::cerr << "usage: series_forecast DIR OUT.csv [SET...]\n";
    return 2;
  }
  const std::string folder = argv[1];
  std::ofstream out(argv[2]);
  if (!out) {
    std::cerr << argv[2] << " cannot be written\n";
    return 2;
  }
  const std::set<std::string> wanted(argv + 3, argv + argc);
  const ferrule::bench::Table protocol = ferrule::bench::ReadTable(folder + "/protocol.csv");
  ferrule::bench::Run run(out);
  for (size_t i = 0; i < protocol.rows.size(); ++i)
    if (wanted.empty() || wanted.count(protocol.At(i, "set")) > 0) run.Set(folder, protocol, i);
  run.Print();
  return 0;
}
