#include "core/bench/inspections.h"

#include <algorithm>

#include "absl/strings/str_cat.h"
#include "core/reliability/control.h"
#include "core/time/civil.h"
#include "core/unit/inspection.h"

namespace ferrule::bench {
namespace {

int64_t DaysBetween(const v1::Stamp& from, const v1::Stamp& to, absl::TimeZone zone) {
  return time::LocalDay(time::ToMicros(to.time()), zone) -
         time::LocalDay(time::ToMicros(from.time()), zone);
}

bool FailedIn(const v1::InspectionRow& row, const std::string& item) {
  return std::any_of(row.failed().begin(), row.failed().end(),
                     [&](const v1::FailedItem& failed) { return failed.item() == item; });
}

void PutDrift(const reliability::Drift& drift, v1::Trend* trend) {
  trend->set_center_reading(drift.limits.center);
  trend->set_low_reading(drift.limits.low);
  trend->set_high_reading(drift.limits.high);
  trend->set_drifting(drift.outside || drift.wandering);
  if (drift.outside) {
    trend->set_because("the last reading lies outside the limits of its own habit");
  } else if (drift.wandering) {
    trend->set_because("the smoothed reading has left its own habit: it creeps");
  }
}

}  // namespace

InspectionLog::Item& InspectionLog::ItemOf(const std::string& name) {
  const auto at = std::lower_bound(
      items_.begin(), items_.end(), name,
      [](const Item& item, const std::string& wanted) { return item.name < wanted; });
  if (at != items_.end() && at->name == name) return *at;
  return *items_.insert(at, Item{name, "", {}, {}});
}

void InspectionLog::Visit(const Moment& moment) {
  const v1::Fact& fact = moment.view.fact();
  if (fact.has_repair_closed() || fact.has_part_fitted() || fact.has_part_removed()) ++period_;
  if (!fact.has_inspection_done() || !moment.after.has_received()) return;
  const v1::InspectionDone& f = fact.inspection_done();
  const depot::Rules& rules = book_.At(moment.view.happened_us);
  const v1::Checklist* checklist = rules.FindChecklist(f.checklist());
  v1::InspectionRow& row = rows_.emplace_back();
  *row.mutable_done() = moment.stamp;
  row.set_checklist(f.checklist());
  row.set_checklist_version(f.checklist_version());
  row.set_tester(f.tester());
  const unit::Verdict verdict = unit::Judge(f, rules.FindModel(moment.before.model()), rules);
  for (const v1::FailedItem& failed : verdict.failed) *row.add_failed() = failed;
  const v1::Inspection& kept = moment.after.inspection();
  row.set_passed(Same(kept.done(), moment.stamp) && kept.passed());
  if (!row.passed() && verdict.failed.empty()) {
    row.set_no_verdict_because(moment.after.untested_because());
  }
  if (checklist != nullptr) row.set_source(checklist->source());
  for (const v1::Reading& reading : f.readings()) {
    const v1::ChecklistItem* limits = nullptr;
    for (int i = 0; checklist != nullptr && i < checklist->items_size(); ++i) {
      if (checklist->items(i).id() == reading.item()) limits = &checklist->items(i);
    }
    if (limits == nullptr || limits->unit().empty()) continue;
    Item& item = ItemOf(reading.item());
    item.measure = limits->unit();
    item.limits = *limits;
    item.taken.push_back({moment.stamp, reading.value(), period_});
  }
}

std::vector<v1::Trend> InspectionLog::Trends(const std::string& unit, size_t base) const {
  std::vector<v1::Trend> trends;
  for (const Item& item : items_) {
    v1::Trend& trend = trends.emplace_back();
    trend.set_unit(unit);
    trend.set_item(item.name);
    trend.set_measure(item.measure);
    if (item.limits.has_min()) trend.set_min_reading(item.limits.min());
    if (item.limits.has_max()) trend.set_max_reading(item.limits.max());
    std::vector<double> present;  // of the present period
    for (const Taken& taken : item.taken) {
      v1::TrendPoint* point = trend.add_points();
      *point->mutable_done() = taken.done;
      point->set_value_reading(taken.value);
      point->set_smoothed_reading(taken.value);
      if (taken.period == item.taken.back().period) present.push_back(taken.value);
    }
    const auto drift = reliability::WatchDrift(present, base);
    if (!drift) continue;
    PutDrift(*drift, &trend);
    const int before = trend.points_size() - static_cast<int>(present.size());
    for (size_t i = 0; i < present.size(); ++i) {
      trend.mutable_points(before + static_cast<int>(i))->set_smoothed_reading(drift->smoothed[i]);
    }
  }
  return trends;
}

void FirstPass::Visit(const Moment& moment) {
  if (!moment.view.fact().has_inspection_done() || moment.view.happened_us < from_us_) return;
  const bool first = moment.before.condition() == v1::CONDITION_UNTESTED &&
                     moment.before.untested_because() == v1::REASON_NOT_INSPECTED_SINCE_RETURN;
  const bool passed = moment.after.condition() == v1::CONDITION_PASSED;
  if (!first || (!passed && moment.after.condition() != v1::CONDITION_FAILED)) return;
  ++inspections_;
  passed_ += passed ? 1 : 0;
}

std::vector<v1::RepeatedFailure> Repeats(const std::vector<v1::InspectionRow>& inspections,
                                         const std::vector<v1::RepairRow>& repairs, int repeat_days,
                                         absl::TimeZone zone) {
  std::vector<v1::RepeatedFailure> repeats;
  // The last failure, which need not be the last inspection.
  const auto last =
      std::find_if(inspections.rbegin(), inspections.rend(),
                   [](const v1::InspectionRow& row) { return row.failed_size() > 0; });
  if (last == inspections.rend()) return repeats;
  for (const v1::FailedItem& failed : last->failed()) {
    const auto before =
        std::find_if(std::next(last), inspections.rend(),
                     [&](const v1::InspectionRow& row) { return FailedIn(row, failed.item()); });
    if (before == inspections.rend()) continue;
    v1::RepeatedFailure& repeat = repeats.emplace_back();
    repeat.set_item(failed.item());
    *repeat.mutable_before() = before->done();
    repeat.set_days(static_cast<int32_t>(DaysBetween(before->done(), last->done(), zone)));
    repeat.set_within_days(DaysBetween(before->done(), last->done(), zone) <= repeat_days);
    for (const v1::RepairRow& repair : repairs) {
      const int64_t closed_us = time::ToMicros(repair.closed().time());
      if (repair.has_closed() && closed_us >= time::ToMicros(before->done().time()) &&
          closed_us <= time::ToMicros(last->done().time())) {
        *repeat.mutable_repaired() = repair.closed();
      }
    }
  }
  return repeats;
}

}  // namespace ferrule::bench
