#include "core/bench/repairs.h"

#include <algorithm>

#include "core/time/civil.h"
#include "core/unit/ready.h"

namespace ferrule::bench {
// The repair that goes on; null when none does.
v1::RepairRow* RepairLog::Open() {
  return rows_.empty() || rows_.back().has_closed() ? nullptr : &rows_.back();
}

bool RepairLog::IsOutside(const std::string& cause, int64_t at_us) const {
  const auto& causes = book_.At(at_us).settings().repair_causes();
  return std::any_of(causes.begin(), causes.end(),
                     [&](const v1::RepairCause& c) { return c.id() == cause && c.outside(); });
}

void RepairLog::Close(const Moment& moment) {
  const v1::RepairClosed& f = moment.view.fact().repair_closed();
  if (Open() == nullptr) {
    // Nobody recorded its beginning; it is a repair all the same.
    rows_.emplace_back();
    rows_.back().set_run_s(unit::TrueRunSeconds(moment.before.meter()));
  }
  v1::RepairRow& row = rows_.back();
  *row.mutable_closed() = moment.stamp;
  row.set_cause(f.cause());
  row.set_work(f.work());
  row.set_no_fault_found(f.no_fault_found());
  row.set_labour_s(f.labour_s());
  row.set_cost_minor(f.cost_minor());
  if (f.no_fault_found() || IsOutside(f.cause(), moment.view.happened_us)) return;
  const absl::TimeZone zone = ZoneOf(moment.after, book_, moment.view.happened_us);
  if (!failures_.empty()) {
    const int64_t began_us =
        row.has_opened() ? time::ToMicros(row.opened().time()) : moment.view.happened_us;
    row.set_repeat(time::LocalDay(began_us, zone) - failures_.back().day <= repeat_days_);
  }
  failures_.push_back({time::LocalDay(moment.view.happened_us, zone), moment.view.happened_us,
                       row.run_s(), moment.stamp});
}

void RepairLog::Visit(const Moment& moment) {
  if (!moment.after.has_received()) return;
  const v1::Fact& fact = moment.view.fact();
  v1::RepairRow* open = Open();
  switch (fact.what_case()) {
    case v1::Fact::kRepairOpened: {
      if (open != nullptr) return;
      v1::RepairRow& row = rows_.emplace_back();
      *row.mutable_opened() = moment.stamp;
      row.set_complaint(fact.repair_opened().complaint());
      row.set_run_s(unit::TrueRunSeconds(moment.before.meter()));
      if (moment.before.meter().has_read()) {
        row.set_meter_before_s(moment.before.meter().reading_s());
      }
      return;
    }
    case v1::Fact::kRepairClosed:
      Close(moment);
      if (moment.after.meter().has_read()) {
        rows_.back().set_meter_after_s(moment.after.meter().reading_s());
      }
      return;
    case v1::Fact::kPartFitted:
      if (open != nullptr) open->add_parts_in(fact.part_fitted().part());
      return;
    case v1::Fact::kPartRemoved:
      if (open != nullptr) open->add_parts_out(fact.part_removed().part());
      return;
    case v1::Fact::kMeterRead:
      if (open != nullptr) open->set_meter_before_s(moment.after.meter().reading_s());
      return;
    case v1::Fact::kMeterReplaced:
      if (open != nullptr && fact.meter_replaced().has_old_last_s()) {
        open->set_meter_before_s(fact.meter_replaced().old_last_s());
      }
      return;
    case v1::Fact::kInspectionDone:
      if (!rows_.empty() && rows_.back().has_closed() && !rows_.back().has_retest() &&
          moment.after.condition() == v1::CONDITION_PASSED) {
        *rows_.back().mutable_retest() = moment.stamp;
      }
      return;
    default:
      return;
  }
}

}  // namespace ferrule::bench
