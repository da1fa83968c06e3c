#include "core/board/bench_unit.h"

#include <algorithm>

#include "absl/strings/str_cat.h"
#include "core/bench/cleanings.h"
#include "core/bench/inspections.h"
#include "core/bench/repairs.h"
#include "core/bench/run_hours.h"
#include "core/board/bench_fleet.h"
#include "core/board/bench_policy.h"
#include "core/board/unit_facts.h"
#include "core/fact/subject.h"
#include "core/reliability/retire.h"
#include "core/time/civil.h"
#include "core/unit/ready.h"

namespace ferrule::board {
namespace {

constexpr double kSecondsPerHour = 3'600;
constexpr char kCaution[] =
    "a comparison of figures, no judgement of the device; the maker's instructions and licensed "
    "practice rule";

template <typename Request>
int64_t KnownUs(const Request& request) {
  return request.has_known_time() ? time::ToMicros(request.known_time()) : 0;
}

// The newest first.
template <typename Row>
void PutReversed(const std::vector<Row>& rows, google::protobuf::RepeatedPtrField<Row>* out) {
  for (auto row = rows.rbegin(); row != rows.rend(); ++row) *out->Add() = *row;
}

struct Spending {
  int64_t all = 0;
  int64_t last_year = 0;
  int repairs = 0;
};

Spending SpentOn(const std::vector<v1::RepairRow>& rows, absl::CivilDay today,
                 absl::TimeZone zone) {
  Spending spent;
  for (const v1::RepairRow& row : rows) {
    if (!row.has_closed()) continue;
    ++spent.repairs;
    spent.all += row.cost_minor();
    if (time::LocalDay(time::ToMicros(row.closed().time()), zone) > today - 365) {
      spent.last_year += row.cost_minor();
    }
  }
  return spent;
}

}  // namespace

absl::StatusOr<v1::AssessFailureResponse> AssessFailure(ledger::Ledger& ledger,
                                                        const v1::AssessFailureRequest& request,
                                                        int64_t now_us) {
  const auto book = ledger.Book();
  const depot::Rules& rules = book->At(now_us);
  const int days = request.repeat_days() > 0 ? request.repeat_days() : RepeatDays(rules);
  absl::TimeZone zone;
  bench::InspectionLog inspections(*book);
  bench::RepairLog repairs(*book, days);
  const absl::Status read = WithFactsOf(
      ledger, request.name(), KnownUs(request), [&](const std::string& name, const auto& facts) {
        bench::Replay(name, facts, *book, [&](const bench::Moment& moment) {
          inspections.Visit(moment);
          repairs.Visit(moment);
          zone = bench::ZoneOf(moment.after, *book, moment.view.happened_us);
        });
      });
  if (!read.ok()) return read;
  v1::AssessFailureResponse response;
  PutReversed(inspections.rows(), response.mutable_inspections());
  for (auto& repeat : bench::Repeats(inspections.rows(), repairs.rows(), days, zone)) {
    *response.add_repeats() = std::move(repeat);
  }
  const std::string unit = request.name().substr(request.name().find('/') + 1);
  for (auto& trend : inspections.Trends(unit, DriftBase(rules))) {
    *response.add_trends() = std::move(trend);
  }
  PutReversed(repairs.rows(), response.mutable_repairs());
  return response;
}

absl::StatusOr<v1::GetRunHoursResponse> GetRunHours(ledger::Ledger& ledger,
                                                    const v1::GetRunHoursRequest& request,
                                                    int64_t /*now_us*/) {
  const auto book = ledger.Book();
  bench::RunLog log;
  v1::Meter meter;
  const absl::Status read = WithFactsOf(
      ledger, request.name(), KnownUs(request), [&](const std::string& name, const auto& facts) {
        bench::Replay(name, facts, *book, [&](const bench::Moment& moment) {
          log.Visit(moment);
          meter = moment.after.meter();
        });
      });
  if (!read.ok()) return read;
  v1::GetRunHoursResponse response;
  for (const v1::MeterSegment& segment : log.segments()) *response.add_segments() = segment;
  response.set_run_s(unit::TrueRunSeconds(meter));
  response.set_incomplete(meter.incomplete());
  response.set_doubtful_count(log.doubtful());
  response.set_daily_use_s(log.daily_use_s());
  return response;
}

absl::StatusOr<v1::ReportCleaningsResponse> ReportCleanings(
    ledger::Ledger& ledger, const v1::ReportCleaningsRequest& request, int64_t /*now_us*/) {
  const auto book = ledger.Book();
  v1::ReportCleaningsResponse response;
  const int64_t from_us = request.has_from_time() ? time::ToMicros(request.from_time()) : 0;
  const auto visit = [&](const std::string& name, const std::vector<fact::FactView>& facts) {
    bench::Replay(name, facts, *book, [&](const bench::Moment& moment) {
      v1::CleaningRow row;
      if (!bench::CleaningRowOf(moment, *book, &row)) return;
      const bool wanted =
          (request.product().empty() || row.product() == request.product()) &&
          (request.product_lot().empty() || row.product_lot() == request.product_lot()) &&
          moment.view.happened_us >= from_us;
      if (wanted) *response.add_rows() = std::move(row);
    });
  };
  absl::Status read;
  if (request.unit().empty()) {
    if (request.has_known_time()) {
      return absl::InvalidArgumentError(
          "known_time goes with one unit: name the unit, or leave the time out");
    }
    read = ledger.WithReader([&](store::Connection& connection) {
      return EachUnitsFacts(connection, Facts::kAll, {}, visit);
    });
  } else {
    const std::string name = fact::SubjectName(fact::SubjectKind::kUnit, request.unit());
    read = WithFactsOf(ledger, name, KnownUs(request), visit);
  }
  if (!read.ok()) return read;
  std::stable_sort(response.mutable_rows()->pointer_begin(), response.mutable_rows()->pointer_end(),
                   [](const v1::CleaningRow* a, const v1::CleaningRow* b) {
                     return time::ToMicros(a->done().time()) < time::ToMicros(b->done().time());
                   });
  return response;
}

absl::StatusOr<v1::AssessRepairResponse> AssessRepair(ledger::Ledger& ledger,
                                                      const v1::AssessRepairRequest& request,
                                                      int64_t now_us) {
  const absl::StatusOr<ledger::StatePtr> state = ledger.Get(request.name());
  if (!state.ok()) return state.status();
  const v1::UnitState& unit = (*state)->unit();
  const auto book = ledger.Book();
  const depot::Rules& rules = book->At(now_us);
  bench::RepairLog repairs(*book, RepeatDays(rules));
  const absl::Status read =
      WithFactsOf(ledger, request.name(), 0, [&](const std::string& name, const auto& facts) {
        bench::Replay(name, facts, *book,
                      [&](const bench::Moment& moment) { repairs.Visit(moment); });
      });
  if (!read.ok()) return read;
  const auto fleet = FleetPasts(ledger, {"", unit.model()}, 0, now_us);
  if (!fleet.ok()) return fleet.status();
  const absl::TimeZone zone = bench::ZoneOf(unit, *book, now_us);
  const absl::CivilDay today = time::LocalDay(now_us, zone);
  const Spending spent = SpentOn(repairs.rows(), today, zone);

  reliability::RepairCase repair;
  repair.repair_cost = request.repair_cost_minor();
  repair.spent = spent.all;
  repair.spent_last_year = spent.last_year;
  if (const v1::Model* model = rules.FindModel(unit.model())) {
    repair.replacement_cost = model->replacement_cost_minor();
  }
  repair.model_spent = fleet->spent;
  repair.model_turns = fleet->turns;
  repair.age_days =
      static_cast<double>(today - time::LocalDay(time::ToMicros(unit.received().time()), zone));
  repair.life_years = LifeYears(rules);
  repair.repair_share = RepairShare(rules);
  repair.turns = unit.turn_count();

  v1::AssessRepairResponse response;
  double model_hours = 0;
  double model_failures = 0;
  for (const bench::UnitPast& past : fleet->units) {
    model_hours += past.hours();
    model_failures += static_cast<double>(past.failure_run_hours.size());
  }
  for (const v1::FailingUnit& row : bench::FailingUnits(fleet->units, FalseAlarmShare(rules))) {
    if (row.unit() == unit.unit()) repair.beyond_chance = row.beyond_chance();
  }
  const reliability::RepairAdvice advice = reliability::AdviseRepair(repair);
  response.set_retire(advice.retire);
  for (const std::string& reason : advice.reasons) response.add_reasons(reason);
  response.set_repair_count(spent.repairs);
  response.set_failure_count(static_cast<int32_t>(repairs.failures().size()));
  response.set_spent_cost_minor(spent.all);
  response.set_spent_last_year_cost_minor(spent.last_year);
  response.set_age_days(static_cast<int32_t>(repair.age_days));
  response.set_run_hours(static_cast<double>(unit::TrueRunSeconds(unit.meter())) / kSecondsPerHour);
  if (response.run_hours() > 0) {
    response.set_failures_per_1000_hours(1000 * response.failure_count() / response.run_hours());
  }
  if (model_hours > 0) {
    response.set_model_failures_per_1000_hours(1000 * model_failures / model_hours);
  }
  response.set_turn_count(unit.turn_count());
  response.set_remaining_turns(advice.remaining_turns);
  response.set_repaired_turn_cost_minor(advice.repaired_cost_per_turn);
  response.set_new_turn_cost_minor(advice.new_cost_per_turn);
  response.set_replacement_cost_minor(repair.replacement_cost);
  response.set_note(kCaution);
  return response;
}

}  // namespace ferrule::board
