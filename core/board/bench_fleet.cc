#include "core/board/bench_fleet.h"

#include <algorithm>
#include <map>
#include <set>

#include "absl/strings/str_cat.h"
#include "core/bench/inspections.h"
#include "core/bench/repairs.h"
#include "core/board/bench_policy.h"
#include "core/plan/distributions.h"
#include "core/time/civil.h"
#include "core/unit/ready.h"

namespace ferrule::board {
namespace {

constexpr int64_t kDayUs = int64_t{86'400} * 1'000'000;
constexpr double kSecondsPerHour = 3'600;
constexpr char kChanceNote[] =
    "failures are repairs that found something inside the device; each unit is held against its "
    "own model in its own run hours (binomial), corrected for looking at many (Benjamini and "
    "Hochberg); a unit beyond chance is one to look at, not a verdict";
constexpr char kReliabilityNote[] =
    "failures are repairs that found something inside the device; bounds assume a constant rate "
    "(NIST/SEMATECH e-Handbook 8.4.5.1); a shape above 1 wears out; hours are those of the meters";

std::string Bare(const std::string& name) { return name.substr(name.find('/') + 1); }

// One unit's past out of its replay.
class PastOf {
 public:
  PastOf(const depot::SettingsBook& book, int repeat_days, int64_t from_us)
      : repairs_(book, repeat_days), first_pass_(from_us), from_us_(from_us) {}

  void Visit(const bench::Moment& moment) {
    repairs_.Visit(moment);
    first_pass_.Visit(moment);
    const double hours =
        static_cast<double>(unit::TrueRunSeconds(moment.after.meter())) / kSecondsPerHour;
    if (moment.view.happened_us < from_us_) past_.from_run_hours = hours;
    past_.to_run_hours = hours;
    past_.model = moment.after.model();
    turns_ = moment.after.turn_count();
  }

  void PutInto(const std::string& name, Fleet* fleet) {
    past_.unit = Bare(name);
    bench::PutRepairs(repairs_, from_us_, &past_);
    past_.first_inspections = first_pass_.inspections();
    past_.first_passed = first_pass_.passed();
    for (const v1::RepairRow& row : repairs_.rows()) fleet->spent += row.cost_minor();
    fleet->turns += turns_;
    fleet->units.push_back(std::move(past_));
  }

 private:
  bench::RepairLog repairs_;
  bench::FirstPass first_pass_;
  const int64_t from_us_;
  bench::UnitPast past_;
  int turns_ = 0;
};

absl::StatusOr<Fleet> PastsFrom(ledger::Ledger& ledger, Facts which, const UnitFilter& filter,
                                int64_t from_us, int64_t now_us) {
  const auto book = ledger.Book();
  const int repeat_days = RepeatDays(book->At(now_us));
  Fleet fleet;
  const absl::Status read = ledger.WithReader([&](store::Connection& connection) {
    return EachUnitsFacts(connection, which, filter,
                          [&](const std::string& name, const auto& facts) {
                            PastOf past(*book, repeat_days, from_us);
                            bench::Replay(name, facts, *book,
                                          [&](const bench::Moment& moment) { past.Visit(moment); });
                            past.PutInto(name, &fleet);
                          });
  });
  if (!read.ok()) return read;
  return fleet;
}

absl::Status KnowModel(const depot::Rules& rules, const std::string& model) {
  if (model.empty() || rules.FindModel(model) != nullptr) return absl::OkStatus();
  return absl::NotFoundError(absl::StrCat("the settings in force have no model ", model,
                                          "; ferrule settings show lists the models"));
}

// Parts fitted and lost within the window, by position.
struct SpareCount {
  int fitted = 0;
  int lost = 0;
  int lacking = 0;
};

class SpareCounter {
 public:
  SpareCounter(int64_t from_us, const depot::Rules& rules) : from_us_(from_us), rules_(rules) {}

  // A part that moves from one unit to another is no new one: its donor asks for one in its turn.
  void Visit(const fact::FactView& view) {
    const v1::Fact& fact = view.fact();
    if (fact.has_unit_received()) {
      for (const v1::PartInPosition& part : fact.unit_received().parts()) {
        Seen(part.part(), part.position(), view.happened_us, false);
      }
    } else if (fact.has_part_fitted()) {
      Seen(fact.part_fitted().part(), fact.part_fitted().position(), view.happened_us, true);
    } else if (fact.has_picked_up() && view.happened_us >= from_us_) {
      for (const std::string& position : fact.picked_up().missing()) ++counts_[position].lost;
    }
  }

  void AddLacking(const v1::UnitState& unit) {
    const v1::Model* model = rules_.FindModel(unit.model());
    for (int i = 0; model != nullptr && i < model->parts_size(); ++i) {
      const std::string& position = model->parts(i).position();
      if (!model->parts(i).required()) continue;
      const bool filled =
          std::any_of(unit.parts().begin(), unit.parts().end(),
                      [&](const v1::PartIn& in) { return in.position() == position; });
      const auto& missing = unit.missing();
      const bool gone = std::find(missing.begin(), missing.end(), position) != missing.end();
      if (!filled || gone) ++counts_[position].lacking;
    }
  }

  std::map<std::string, SpareCount> Take() {
    for (const auto& [part, first] : first_seen_) {
      if (first.fitted && first.at_us >= from_us_) ++counts_[first.position].fitted;
    }
    return std::move(counts_);
  }

 private:
  struct First {
    std::string position;
    int64_t at_us;
    bool fitted;
  };
  void Seen(const std::string& part, const std::string& position, int64_t at_us, bool fitted) {
    const auto [it, is_new] = first_seen_.try_emplace(part, First{position, at_us, fitted});
    if (!is_new && at_us < it->second.at_us) it->second = {position, at_us, fitted};
  }

  const int64_t from_us_;
  const depot::Rules& rules_;
  std::map<std::string, First> first_seen_;
  std::map<std::string, SpareCount> counts_;
};

// A Poisson law of demand over the lead time: single parts fail one by one.
void PutSpares(const SpareCount& count, int window_days, v1::SpareRow* row) {
  row->set_fitted_count(count.fitted);
  row->set_lost_count(count.lost);
  row->set_lacking_count(count.lacking);
  const double mean = static_cast<double>(count.fitted + count.lacking) * row->lead_time_days() /
                      static_cast<double>(window_days);
  const plan::CountLaw law{mean};
  row->set_expected_in_lead_time(mean);
  const int64_t keep = plan::Quantile(law, row->wanted_probability());
  row->set_keep_count(static_cast<int32_t>(keep));
  row->set_reached_probability(plan::Cdf(law, keep));
}

}  // namespace

absl::StatusOr<Fleet> FleetPasts(ledger::Ledger& ledger, const UnitFilter& filter, int64_t from_us,
                                 int64_t now_us) {
  return PastsFrom(ledger, Facts::kRun, filter, from_us, now_us);
}

absl::StatusOr<v1::ReportFailingUnitsResponse> ReportFailingUnits(
    ledger::Ledger& ledger, const v1::ReportFailingUnitsRequest& request, int64_t now_us) {
  const auto book = ledger.Book();
  const depot::Rules& rules = book->At(now_us);
  absl::Status known = KnowModel(rules, request.model());
  if (!known.ok()) return known;
  const int64_t from_us = request.has_from_time() ? time::ToMicros(request.from_time()) : 0;
  const auto fleet = FleetPasts(ledger, {"", request.model()}, from_us, now_us);
  if (!fleet.ok()) return fleet.status();
  v1::ReportFailingUnitsResponse response;
  response.set_false_alarm_share(FalseAlarmShare(rules));
  response.set_unit_count(static_cast<int32_t>(fleet->units.size()));
  response.set_note(kChanceNote);
  for (auto& row : bench::FailingUnits(fleet->units, FalseAlarmShare(rules))) {
    if (request.all() || row.beyond_chance()) *response.add_units() = std::move(row);
  }
  return response;
}

absl::StatusOr<v1::ReportReliabilityResponse> ReportReliability(
    ledger::Ledger& ledger, const v1::ReportReliabilityRequest& request, int64_t now_us) {
  const double confidence = request.confidence_share() == 0 ? 0.9 : request.confidence_share();
  if (!(confidence > 0 && confidence < 1)) {
    return absl::InvalidArgumentError(
        "confidence_share is not above 0 and below 1: give for instance 0.9");
  }
  const auto book = ledger.Book();
  absl::Status known = KnowModel(book->At(now_us), request.model());
  if (!known.ok()) return known;
  const int64_t from_us = request.has_from_time() ? time::ToMicros(request.from_time()) : 0;
  // First passes hang on cleanings and holds as well.
  const auto fleet = PastsFrom(ledger, Facts::kAll, {"", request.model()}, from_us, now_us);
  if (!fleet.ok()) return fleet.status();
  v1::ReportReliabilityResponse response;
  for (auto& row : bench::ReliabilityOf(fleet->units, confidence)) {
    *response.add_rows() = std::move(row);
  }
  response.set_note(kReliabilityNote);
  return response;
}

absl::StatusOr<v1::ReportDriftResponse> ReportDrift(ledger::Ledger& ledger,
                                                    const v1::ReportDriftRequest& request,
                                                    int64_t now_us) {
  const auto book = ledger.Book();
  const depot::Rules& rules = book->At(now_us);
  absl::Status known = KnowModel(rules, request.model());
  if (!known.ok()) return known;
  v1::ReportDriftResponse response;
  const absl::Status read = ledger.WithReader([&](store::Connection& connection) {
    return EachUnitsFacts(connection, Facts::kAll, {request.branch(), request.model()},
                          [&](const std::string& name, const auto& facts) {
                            bench::InspectionLog log(*book);
                            bench::Replay(name, facts, *book,
                                          [&](const bench::Moment& moment) { log.Visit(moment); });
                            for (auto& trend : log.Trends(Bare(name), DriftBase(rules))) {
                              if (request.all() || trend.drifting())
                                *response.add_trends() = std::move(trend);
                            }
                          });
  });
  if (!read.ok()) return read;
  std::sort(response.mutable_trends()->pointer_begin(), response.mutable_trends()->pointer_end(),
            [](const v1::Trend* a, const v1::Trend* b) {
              return std::forward_as_tuple(a->unit(), a->item()) <
                     std::forward_as_tuple(b->unit(), b->item());
            });
  return response;
}

absl::StatusOr<v1::ReportSparesResponse> ReportSpares(ledger::Ledger& ledger,
                                                      const v1::ReportSparesRequest& request,
                                                      int64_t now_us) {
  const auto book = ledger.Book();
  const depot::Rules& rules = book->At(now_us);
  if (request.window_days() < 0 || request.window_days() > 3'650) {
    return absl::InvalidArgumentError("window_days is not from 0 to 3650: 0 means 365");
  }
  const int window_days = request.window_days() == 0 ? 365 : request.window_days();
  std::vector<v1::SparePolicy> policies;
  for (const v1::SparePolicy& policy : rules.settings().bench().spares()) {
    if (request.position().empty() || policy.position() == request.position()) {
      policies.push_back(policy);
    }
  }
  if (policies.empty()) {
    return absl::FailedPreconditionError(absl::StrCat(
        "the settings in force say of no position", request.position().empty() ? "" : " ",
        request.position(),
        " how long an order takes and how sure to be; add bench { spares { position: \"pendant\" "
        "lead_time_days: 14 enough_probability: 0.95 } } with the depot's own figures"));
  }
  SpareCounter counter(now_us - window_days * kDayUs, rules);
  const absl::Status read = ledger.WithReader([&](store::Connection& connection) -> absl::Status {
    absl::Status facts = EachUnitsFacts(
        connection, Facts::kAll, {}, [&](const std::string& name, const auto& views) {
          bench::Replay(name, views, *book,
                        [&](const bench::Moment& moment) { counter.Visit(moment.view); });
        });
    if (!facts.ok()) return facts;
    return EachUnit(connection, {}, [&](const v1::SubjectState& state, std::string_view) {
      counter.AddLacking(state.unit());
    });
  });
  if (!read.ok()) return read;
  std::map<std::string, SpareCount> counts = counter.Take();
  v1::ReportSparesResponse response;
  for (const v1::SparePolicy& policy : policies) {
    v1::SpareRow* row = response.add_rows();
    row->set_position(policy.position());
    row->set_lead_time_days(policy.lead_time_days());
    row->set_wanted_probability(policy.enough_probability());
    PutSpares(counts[policy.position()], window_days, row);
  }
  return response;
}

}  // namespace ferrule::board
