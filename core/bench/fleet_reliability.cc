#include "core/bench/fleet_reliability.h"

#include <algorithm>
#include <map>
#include <tuple>

#include "core/plan/weibull.h"
#include "core/reliability/excess.h"
#include "core/reliability/growth.h"
#include "core/reliability/mtbf.h"
#include "core/time/civil.h"

namespace ferrule::bench {
namespace {

constexpr double kSecondsPerHour = 3'600;
constexpr double kLeastHours = 0.05;  // half of what a meter shows: a time must be above 0

using ByModel = std::map<std::string, std::vector<const UnitPast*>>;

ByModel Group(const std::vector<UnitPast>& pasts) {
  ByModel models;
  for (const UnitPast& past : pasts) models[past.model].push_back(&past);
  return models;
}

// From arrival or repair to the next failure; the last stretch goes on.
void AddStretches(const UnitPast& past, std::vector<plan::Stay>* stays) {
  double from = past.from_run_hours;
  for (double at : past.failure_run_hours) {
    stays->push_back({std::max(at - from, kLeastHours), true, 0});
    from = std::max(at, from);
  }
  if (past.to_run_hours - from > kLeastHours)
    stays->push_back({past.to_run_hours - from, false, 0});
}

void PutWeibull(const std::vector<const UnitPast*>& units, v1::ReliabilityRow* row) {
  std::vector<plan::Stay> stays;
  for (const UnitPast* past : units) AddStretches(*past, &stays);
  const auto weibull = plan::FitWeibull(stays);
  if (!weibull.ok()) return;  // too few failures to tell a shape
  row->set_weibull_shape(weibull->shape);
  row->set_weibull_scale_hours(weibull->scale);
}

void PutTrend(const std::vector<const UnitPast*>& units, v1::ReliabilityRow* row) {
  std::vector<double> shares;
  for (const UnitPast* past : units) {
    if (past->hours() <= kLeastHours) continue;
    for (double at : past->failure_run_hours) {
      const double share = (at - past->from_run_hours) / past->hours();
      shares.push_back(std::clamp(share, 1e-6, 1.0));
    }
  }
  std::sort(shares.begin(), shares.end());
  if (const auto law = reliability::FitPowerLaw(shares, 1)) {
    row->set_growth_slope(law->growth_slope);
    row->set_trend_probability(law->trend_probability);
  }
}

}  // namespace

void PutRepairs(const RepairLog& repairs, int64_t from_us, UnitPast* past) {
  for (const Failure& failure : repairs.failures()) {
    if (failure.at_us < from_us) continue;
    past->failure_run_hours.push_back(static_cast<double>(failure.run_s) / kSecondsPerHour);
  }
  std::sort(past->failure_run_hours.begin(), past->failure_run_hours.end());
  for (const v1::RepairRow& row : repairs.rows()) {
    if (!row.has_closed() || time::ToMicros(row.closed().time()) < from_us) continue;
    past->no_fault_found += row.no_fault_found() ? 1 : 0;
    past->repeats += row.repeat() ? 1 : 0;
  }
}

std::vector<v1::ReliabilityRow> ReliabilityOf(const std::vector<UnitPast>& pasts,
                                              double confidence) {
  std::vector<v1::ReliabilityRow> rows;
  for (const auto& [model, units] : Group(pasts)) {
    v1::ReliabilityRow& row = rows.emplace_back();
    row.set_model(model);
    row.set_unit_count(static_cast<int32_t>(units.size()));
    double hours = 0;
    int failures = 0;
    for (const UnitPast* past : units) {
      hours += past->hours();
      failures += static_cast<int>(past->failure_run_hours.size());
      row.set_no_fault_found_count(row.no_fault_found_count() + past->no_fault_found);
      row.set_repeat_count(row.repeat_count() + past->repeats);
      row.set_first_inspection_count(row.first_inspection_count() + past->first_inspections);
      row.set_first_passed_count(row.first_passed_count() + past->first_passed);
    }
    row.set_run_hours(hours);
    row.set_failure_count(failures);
    if (hours > 0) {
      const reliability::Mtbf mtbf = reliability::BoundMtbf(hours, failures, confidence);
      if (mtbf.mean) row.set_between_failures_hours(*mtbf.mean);
      row.set_low_hours(mtbf.low);
      if (mtbf.high) row.set_high_hours(*mtbf.high);
    }
    PutWeibull(units, &row);
    PutTrend(units, &row);
  }
  return rows;
}

std::vector<v1::FailingUnit> FailingUnits(const std::vector<UnitPast>& pasts,
                                          double false_alarm_share) {
  std::vector<v1::FailingUnit> rows;
  std::vector<double> chances;
  for (const auto& [model, units] : Group(pasts)) {
    std::vector<reliability::Exposure> exposures;
    double hours = 0;
    double failures = 0;
    for (const UnitPast* past : units) {
      exposures.push_back({past->hours(), static_cast<int64_t>(past->failure_run_hours.size())});
      hours += past->hours();
      failures += static_cast<double>(past->failure_run_hours.size());
    }
    for (double chance : reliability::ChancesOfSoMany(exposures)) chances.push_back(chance);
    for (const UnitPast* past : units) {
      v1::FailingUnit& row = rows.emplace_back();
      row.set_unit(past->unit);
      row.set_model(model);
      row.set_failure_count(static_cast<int32_t>(past->failure_run_hours.size()));
      row.set_run_hours(past->hours());
      row.set_expected_failures(hours > 0 ? failures * past->hours() / hours : 0);
    }
  }
  const std::vector<double> corrected = reliability::CorrectForMany(chances);
  for (size_t i = 0; i < rows.size(); ++i) {
    rows[i].set_chance_probability(chances[i]);
    rows[i].set_corrected_probability(corrected[i]);
    rows[i].set_beyond_chance(corrected[i] <= false_alarm_share);
  }
  std::sort(rows.begin(), rows.end(), [](const v1::FailingUnit& a, const v1::FailingUnit& b) {
    return std::forward_as_tuple(a.chance_probability(), a.unit()) <
           std::forward_as_tuple(b.chance_probability(), b.unit());
  });
  return rows;
}

}  // namespace ferrule::bench
