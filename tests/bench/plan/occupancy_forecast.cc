// occupancy_forecast DIR OUT.csv [--whole]: forecasts the units in use from every origin of
// DIR/protocol.csv out of DIR/cases.csv, knowing only what was known at the origin. With --whole
// the quantiles are whole units; else the weight of each count is spread over (x - 1/2, x + 1/2].

#include <algorithm>
#include <chrono>
#include <cstdio>
#include <fstream>
#include <iostream>
#include <map>
#include <string>
#include <vector>

#include "absl/time/civil_time.h"
#include "core/plan/forecast.h"
#include "core/plan/occupancy.h"
#include "core/plan/pmf.h"
#include "core/plan/scores.h"
#include "tests/bench/plan/csv.h"

namespace ferrule::bench {
namespace {

// Day 1 of the branches is Monday 2021-01-04.
const absl::CivilDay kDayZero(2021, 1, 3);
int64_t DayNumber(double day) {
  return day == kMissing ? plan::kNotYet
                         : kDayZero - absl::CivilDay(1970, 1, 1) + static_cast<int64_t>(day);
}

bool IsHoliday(absl::CivilDay day) {
  const int date = day.month() * 100 + day.day();
  for (int holiday : {101, 501, 704, 1224, 1225, 1226, 1231})
    if (date == holiday) return true;
  return false;
}

// How the bounds held, by band of days ahead, where the folder has the truth.
class Coverage {
 public:
  explicit Coverage(const std::string& folder) {
    const std::string path = folder + "/truth_busy.csv";
    if (std::ifstream(path)) truth_ = ReadTable(path);
  }
  void Add(const std::string& model, int day, size_t ahead, const plan::Pmf& units) {
    const size_t row = static_cast<size_t>(day - 1);
    if (row >= truth_.rows.size()) return;
    const auto y = static_cast<int64_t>(truth_.Number(row, model));
    size_t band = 0;
    while (ahead > kLast[band]) ++band;
    Band& b = bands_[std::min(band, kBands - 1)];
    const plan::TransformPair pair{plan::Cdf(units, y - 1), plan::Cdf(units, y)};
    b.pairs.push_back(pair);
    const double at = static_cast<double>(y);
    b.counted += at >= plan::SpreadQuantile(units, .1) && at <= plan::SpreadQuantile(units, .9);
  }
  void Print() const {
    for (size_t i = 0; i < kBands; ++i) {
      const Band& b = bands_[i];
      if (b.pairs.empty()) continue;
      std::printf(
          "days to %zu: 80 %% bounds hold %.3f of the weight (%.3f of the counts), "
          "95 %% bounds %.3f\n",
          kLast[i], plan::ShareWithin(b.pairs, .1, .9),
          b.counted / static_cast<double>(b.pairs.size()), plan::ShareWithin(b.pairs, .025, .975));
    }
  }

 private:
  static constexpr size_t kBands = 5;
  static constexpr size_t kLast[kBands] = {7, 14, 28, 42, 366};
  struct Band {
    std::vector<plan::TransformPair> pairs;
    double counted = 0;
  };
  Table truth_;
  Band bands_[kBands];
};

int Run(const std::string& folder, const std::string& out_path, bool whole) {
  const Table protocol = ReadTable(folder + "/protocol.csv");
  const Table cases = ReadTable(folder + "/cases.csv");
  std::ofstream out(out_path);
  if (!out) {
    std::cerr << out_path << " cannot be written\n";
    return 2;
  }
  out.precision(10);
  out << "set,series,method,origin,h,mean,q2.5,q10,q50,q90,q95,q97.5,q99,fit_s\n";
  Coverage coverage(folder);
  std::map<std::string, int> number;
  std::vector<std::string> names;
  plan::OccupancyInput input;
  const bool has_patients = cases.Has("patient") && cases.Has("side");
  for (size_t i = 0; i < cases.rows.size(); ++i) {
    const std::string& model = cases.At(i, "model");
    const auto [it, fresh] = number.emplace(model, static_cast<int>(names.size()));
    if (fresh) names.push_back(model);
    plan::Booking b;
    b.device_class = it->second;
    b.booked = DayNumber(cases.Number(i, "booked"));
    b.surgery = DayNumber(cases.Number(i, "surgery"));
    b.changed = DayNumber(cases.Number(i, "changed"));
    b.start = DayNumber(cases.Number(i, "start"));
    b.returned = DayNumber(cases.Number(i, "returned"));
    b.ready = DayNumber(cases.Number(i, "ready"));
    b.prescribed_days = static_cast<int>(cases.Number(i, "prescribed"));
    if (has_patients && cases.Number(i, "patient") > 0 && cases.Number(i, "side") > 0) {
      b.patient = static_cast<uint64_t>(cases.Number(i, "patient"));
      b.side = static_cast<int>(cases.Number(i, "side"));
    }
    input.bookings.push_back(b);
  }
  const int last = static_cast<int>(protocol.Number(0, "n"));
  input.horizon = static_cast<int>(protocol.Number(0, "h"));
  for (int day = -400; day <= last + 400; ++day)
    if (IsHoliday(kDayZero + day)) input.holidays.push_back(DayNumber(day));
  const int step = static_cast<int>(protocol.Number(0, "step"));
  for (int origin = static_cast<int>(protocol.Number(0, "first_origin"));
       origin + input.horizon <= last; origin += step) {
    input.now = DayNumber(origin);
    const auto begin = std::chrono::steady_clock::now();
    const std::vector<plan::ClassOccupancy> all = plan::ForecastOccupancy(input);
    const double seconds =
        std::chrono::duration<double>(std::chrono::steady_clock::now() - begin).count() /
        static_cast<double>(all.size());
    for (const plan::ClassOccupancy& one : all) {
      for (size_t i = 0; i < one.days.size(); ++i) {
        const plan::Pmf& units = one.days[i].units;
        coverage.Add(names[static_cast<size_t>(one.device_class)], origin + static_cast<int>(i) + 1,
                     i + 1, units);
        out << "occ," << names[static_cast<size_t>(one.device_class)] << ",champion," << origin
            << ',' << i + 1 << ',' << plan::Mean(units);
        for (double p : plan::kLevels)
          out << ','
              << (whole ? static_cast<double>(plan::Quantile(units, p))
                        : plan::SpreadQuantile(units, p));
        out << ',' << seconds << '\n';
      }
    }
  }
  coverage.Print();
  return 0;
}

}  // namespace
}  // namespace ferrule::bench

int main(int argc, char** argv) {
  if (argc < 3) {
    std::cerr << "usage: occupancy_forecast DIR OUT.csv [--whole]\n";
    return 2;
  }
  return ferrule::bench::Run(argv[1], argv[2], argc > 3 && std::string(argv[3]) == "--whole");
}
