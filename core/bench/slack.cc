#include "core/bench/slack.h"

#include <algorithm>
#include <map>
#include <tuple>

#include "core/time/civil.h"

namespace ferrule::bench {
namespace {

constexpr int kUsualMinutes = 30;
constexpr int64_t kMinuteUs = 60'000'000;

v1::BenchStep StepFor(v1::Reason reason) {
  switch (reason) {
    case v1::REASON_NOT_IN_CUSTODY:
      return v1::BENCH_STEP_GET_BACK;
    case v1::REASON_CONTAMINATED:
    case v1::REASON_ON_HOLD:
      return v1::BENCH_STEP_RELEASE;
    case v1::REASON_NOT_CLEANED:
      return v1::BENCH_STEP_CLEAN;
    case v1::REASON_MEMORY_NOT_ERASED:
      return v1::BENCH_STEP_ERASE;
    case v1::REASON_INSPECTION_FAILED:
    case v1::REASON_UNDER_REPAIR:
      return v1::BENCH_STEP_REPAIR;
    case v1::REASON_PART_MISSING:
      return v1::BENCH_STEP_FIT_PARTS;
    case v1::REASON_SERVICE_DUE:
      return v1::BENCH_STEP_SERVICE;
    case v1::REASON_WRONG_SIDE:
      return v1::BENCH_STEP_SET_SIDE;
    case v1::REASON_NOT_INSPECTED_SINCE_RETURN:
    case v1::REASON_REPAIRED_AFTER_INSPECTION:
    case v1::REASON_PART_CHANGED_AFTER_INSPECTION:
    case v1::REASON_CHECKLIST_NOT_IN_FORCE:
    case v1::REASON_READING_MISSING:
    case v1::REASON_ELECTRICAL_NOT_STATED:
    case v1::REASON_TESTER_NOT_STATED:
    case v1::REASON_TESTER_OUT_OF_DATE:
    case v1::REASON_TESTER_IN_DOUBT:
      return v1::BENCH_STEP_INSPECT;
    case v1::REASON_NOT_AT_CLEAN_PLACE:
      return v1::BENCH_STEP_PUT_AWAY;
    default:
      return v1::BENCH_STEP_UNSPECIFIED;
  }
}

bool Fits(const Candidate& unit, const Demand& demand) {
  if (unit.branch != demand.branch || unit.device_class != demand.device_class) return false;
  const bool matters = demand.side == v1::SIDE_LEFT || demand.side == v1::SIDE_RIGHT;
  return !matters || !unit.sided || unit.side == demand.side || unit.side == v1::SIDE_EITHER;
}

class Plan {
 public:
  Plan(std::vector<Candidate> units, std::vector<Demand> demands)
      : units_(std::move(units)), demands_(std::move(demands)), demand_of_(units_.size(), -1) {
    const auto by_work = [](const Candidate& a, const Candidate& b) {
      return std::tie(a.minutes, a.unit) < std::tie(b.minutes, b.unit);
    };
    std::sort(units_.begin(), units_.end(), by_work);
    const auto by_need = [](const Demand& a, const Demand& b) {
      return std::tie(a.need_us, a.order) < std::tie(b.need_us, b.order);
    };
    std::sort(demands_.begin(), demands_.end(), by_need);
  }

  std::vector<v1::BenchRow> Rows(int64_t now_us) {
    for (size_t d = 0; d < demands_.size(); ++d) {
      if (!demands_[d].held_unit.empty()) TakeHeld(d);
    }
    for (size_t d = 0; d < demands_.size(); ++d) {
      if (demands_[d].held_unit.empty()) Match(d);
    }
    std::vector<v1::BenchRow> rows;
    for (size_t u = 0; u < units_.size(); ++u) {
      if (!units_[u].ready) rows.push_back(RowOf(u, now_us));
    }
    std::stable_sort(rows.begin(), rows.end(),
                     [](const v1::BenchRow& a, const v1::BenchRow& b) { return Key(a) < Key(b); });
    return rows;
  }

 private:
  void TakeHeld(size_t d) {
    for (size_t u = 0; u < units_.size(); ++u) {
      if (units_[u].unit == demands_[d].held_unit) demand_of_[u] = static_cast<int>(d);
    }
  }

  // Ready units first, then the one with the least work; the units are in that order already, since
  // a ready one needs none.
  void Match(size_t d) {
    for (size_t u = 0; u < units_.size(); ++u) {
      const Candidate& unit = units_[u];
      const bool free = demand_of_[u] < 0 && unit.held_order.empty() && unit.blocked.empty();
      if (!free || !Fits(unit, demands_[d])) continue;
      demand_of_[u] = static_cast<int>(d);
      return;
    }
  }

  v1::BenchRow RowOf(size_t u, int64_t now_us) const {
    const Candidate& unit = units_[u];
    v1::BenchRow row;
    row.set_unit(unit.unit);
    row.set_branch(unit.branch);
    row.set_device_class(unit.device_class);
    row.set_place(unit.place);
    row.set_next(unit.work.empty() ? v1::BENCH_STEP_UNSPECIFIED : unit.work.front());
    for (const std::string& step : unit.steps) row.add_steps(step);
    row.set_minutes(unit.minutes);
    row.set_blocked(unit.blocked);
    if (demand_of_[u] < 0) return row;
    const Demand& demand = demands_[static_cast<size_t>(demand_of_[u])];
    row.set_order(demand.order);
    row.set_held(demand.held_unit == unit.unit);
    time::SetMicros(demand.need_us, row.mutable_needed_time());
    row.set_slack_minutes((demand.need_us - now_us) / kMinuteUs - unit.minutes);
    return row;
  }

  using SortKey = std::tuple<int, int64_t, int, std::string>;
  static SortKey Key(const v1::BenchRow& row) {
    if (row.has_needed_time()) return {0, row.slack_minutes(), row.minutes(), row.unit()};
    return {row.blocked().empty() ? 1 : 2, 0, row.minutes(), row.unit()};
  }

  std::vector<Candidate> units_;  // the least work first
  std::vector<Demand> demands_;   // the first need first
  std::vector<int> demand_of_;    // by unit; -1 for none
};

}  // namespace

std::vector<v1::BenchRow> PlanBench(std::vector<Candidate> units, std::vector<Demand> demands,
                                    int64_t now_us) {
  return Plan(std::move(units), std::move(demands)).Rows(now_us);
}

// The values of v1::BenchStep are in the order of the work.
std::vector<v1::BenchStep> WorkFor(const std::vector<v1::Finding>& findings) {
  std::vector<v1::BenchStep> work;
  const auto add = [&work](v1::BenchStep step) {
    if (step == v1::BENCH_STEP_UNSPECIFIED) return;
    if (std::find(work.begin(), work.end(), step) == work.end()) work.push_back(step);
  };
  for (const v1::Finding& finding : findings) add(StepFor(finding.reason()));
  const auto has = [&work](v1::BenchStep step) {
    return std::find(work.begin(), work.end(), step) != work.end();
  };
  // A repaired unit, and one with another part, is inspected again.
  if (has(v1::BENCH_STEP_REPAIR) || has(v1::BENCH_STEP_FIT_PARTS)) add(v1::BENCH_STEP_INSPECT);
  std::sort(work.begin(), work.end());
  return work;
}

int MinutesOf(const std::vector<v1::BenchStep>& work, const v1::BenchPolicy& policy) {
  int minutes = 0;
  for (v1::BenchStep step : work) {
    const auto& times = policy.times();
    const auto known = std::find_if(times.begin(), times.end(),
                                    [&](const v1::BenchTime& t) { return t.step() == step; });
    minutes += known == times.end() ? kUsualMinutes : known->minutes();
  }
  return minutes;
}

}  // namespace ferrule::bench
