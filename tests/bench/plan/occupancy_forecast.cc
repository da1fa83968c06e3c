// occupancy_forecast DIR OUT.csv [--whole] [DIR...]: forecasts the units in use from every origin
// of DIR/protocol.csv out of DIR/cases.csv, knowing only what was known at the origin. With --whole
// the quantiles are whole units; else they lie between the counts so that the bounds at 80 % and
// 95 % hold the whole counts whose weight is nearest to that. Further folders are forecast too but
// not written: where there are enough for it, whether the transform is level is tested over them.

#include <algorithm>
#include <array>
#include <chrono>
#include <fstream>
#include <iostream>
#include <string>
#include <vector>

#include "core/plan/forecast.h"
#include "core/plan/occupancy.h"
#include "core/plan/pmf.h"
#include "tests/bench/plan/branch.h"
#include "tests/bench/plan/honesty.h"

namespace ferrule::bench {
namespace {

using Quantiles = std::array<double, plan::kLevels.size()>;

Quantiles QuantilesOf(const plan::Pmf& units, bool whole) {
  Quantiles q{};
  for (size_t i = 0; i < q.size(); ++i)
    q[i] = whole ? static_cast<double>(plan::Quantile(units, plan::kLevels[i]))
                 : plan::SpreadQuantile(units, plan::kLevels[i]);
  if (whole) return q;
  const plan::CountRange most = plan::CentralRange(units, .8),
                         nearly = plan::CentralRange(units, .95);
  q[0] = plan::RangeQuantile(units, .025, nearly);
  q[1] = plan::RangeQuantile(units, .1, most);
  q[3] = plan::RangeQuantile(units, .9, most);
  q[5] = plan::RangeQuantile(units, .975, nearly);
  // Moved by less than a count each, they may have passed each other.
  for (size_t i = 1; i < q.size(); ++i) q[i] = std::max(q[i], q[i - 1]);
  return q;
}

void Write(std::ofstream& out, const BranchFolder& branch, const plan::ClassOccupancy& one,
           int origin, double seconds, bool whole) {
  const std::string& name = branch.names[static_cast<size_t>(one.device_class)];
  for (size_t i = 0; i < one.days.size(); ++i) {
    const plan::Pmf& units = one.days[i].units;
    out << "occ," << name << ",champion," << origin << ',' << i + 1 << ',' << plan::Mean(units);
    for (double q : QuantilesOf(units, whole)) out << ',' << q;
    out << ',' << seconds << '\n';
  }
}

void Forecast(const std::string& folder, std::ofstream* out, bool whole, Honesty* honesty) {
  BranchFolder branch = ReadBranch(folder);
  for (const int origin : branch.origins) {
    branch.input.now = DayNumber(origin);
    const auto begin = std::chrono::steady_clock::now();
    const std::vector<plan::ClassOccupancy> all = plan::ForecastOccupancy(branch.input);
    const double seconds =
        std::chrono::duration<double>(std::chrono::steady_clock::now() - begin).count() /
        static_cast<double>(all.size());
    // As a forecast kept in the diary would have it.
    branch.input.incumbents.clear();
    for (const plan::ClassOccupancy& one : all) branch.input.incumbents.push_back(one.level_method);
    for (const plan::ClassOccupancy& one : all) {
      if (out) Write(*out, branch, one, origin, seconds, whole);
      for (size_t i = 0; i < one.days.size(); ++i) {
        const int64_t y = branch.InUse(one.device_class, origin + static_cast<int>(i) + 1);
        if (y >= 0) honesty->Add(i + 1, one.days[i].units, y);
      }
    }
  }
  honesty->NextBranch();
}

int Run(const std::vector<std::string>& arguments) {
  bool whole = false;
  std::vector<std::string> names;
  for (const std::string& argument : arguments)
    if (argument == "--whole")
      whole = true;
    else
      names.push_back(argument);
  if (names.size() < 2) {
    std::cerr << "usage: occupancy_forecast DIR OUT.csv [--whole] [DIR...]\n";
    return 2;
  }
  std::ofstream out(names[1]);
  if (!out) {
    std::cerr << names[1] << " cannot be written\n";
    return 2;
  }
  out.precision(10);
  out << "set,series,method,origin,h,mean,q2.5,q10,q50,q90,q95,q97.5,q99,fit_s\n";
  Honesty honesty;
  Forecast(names[0], &out, whole, &honesty);
  for (size_t i = 2; i < names.size(); ++i) Forecast(names[i], nullptr, whole, &honesty);
  honesty.Print();
  return 0;
}

}  // namespace
}  // namespace ferrule::bench

int main(int argc, char** argv) {
  return ferrule::bench::Run(std::vector<std::string>(argv + 1, argv + argc));
}
