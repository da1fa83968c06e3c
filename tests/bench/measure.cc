#include "tests/bench/measure.h"

#include <time.h>

#include <algorithm>
#include <chrono>
#include <cmath>

namespace ferrule::bench {
namespace {

int64_t NowNanos() {
  return std::chrono::duration_cast<std::chrono::nanoseconds>(
             std::chrono::steady_clock::now().time_since_epoch())
      .count();
}

double SecondsOf(clockid_t clock) {
  timespec now{};
  clock_gettime(clock, &now);
  return static_cast<double>(now.tv_sec) + static_cast<double>(now.tv_nsec) / 1e9;
}

// Three significant digits are what a shared machine can promise.
double Rounded(double value) {
  if (value == 0) return 0;
  const double scale = std::pow(10.0, 3 - std::ceil(std::log10(std::fabs(value))));
  return std::round(value * scale) / scale;
}

}  // namespace

Stopwatch::Stopwatch() : start_ns_(NowNanos()) {}

double Stopwatch::Seconds() const { return static_cast<double>(NowNanos() - start_ns_) / 1e9; }

double OwnCpuSeconds() { return SecondsOf(CLOCK_PROCESS_CPUTIME_ID); }
double ThreadCpuSeconds() { return SecondsOf(CLOCK_THREAD_CPUTIME_ID); }

double Percentile(std::vector<double> values, double share) {
  if (values.empty()) return 0;
  std::sort(values.begin(), values.end());
  const auto index = static_cast<size_t>(share * static_cast<double>(values.size() - 1) + 0.5);
  return values[std::min(index, values.size() - 1)];
}

double Median(std::vector<double> values) { return Percentile(std::move(values), 0.5); }

double MedianOf(const Options& options, const std::function<double()>& measure) {
  std::vector<double> values;
  for (int i = 0; i < options.repeats; ++i) values.push_back(measure());
  return Median(std::move(values));
}

void Report::Put(const std::string& section, const std::string& name, nlohmann::json value) {
  if (value.is_number_float()) value = Rounded(value.get<double>());
  json_[section][name] = std::move(value);
}

void Report::PutAgainst(const std::string& section, const std::string& name, double figure,
                        const std::string& floor_name, double floor, bool more_is_better) {
  nlohmann::ordered_json row;
  row["figure"] = Rounded(figure);
  row["floor"] = Rounded(floor);
  row["floor_is"] = floor_name;
  row[more_is_better ? "share_of_floor" : "times_floor"] = floor > 0 ? Rounded(figure / floor) : 0;
  json_[section][name] = std::move(row);
}

bool Report::Has(const std::string& section, const std::string& name) const {
  return json_.contains(section) && json_[section].contains(name);
}

double Report::Get(const std::string& section, const std::string& name) const {
  if (!Has(section, name)) return 0;
  const nlohmann::ordered_json& value = json_[section][name];
  return value.is_object() ? value.at("figure").get<double>() : value.get<double>();
}

}  // namespace ferrule::bench
