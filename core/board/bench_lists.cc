#include "core/board/bench_lists.h"

#include <algorithm>
#include <map>
#include <set>

#include "core/bench/doubts.h"
#include "core/bench/missing.h"
#include "core/bench/run_hours.h"
#include "core/bench/service_standing.h"
#include "core/bench/slack.h"
#include "core/board/bench_queries.h"
#include "core/board/ready_query.h"
#include "core/board/unit_facts.h"
#include "core/depot/known.h"
#include "core/fact/subject.h"
#include "core/finding/enum_words.h"
#include "core/order/due.h"
#include "core/time/civil.h"
#include "core/unit/ready.h"

namespace ferrule::board {
namespace {

using store::Value;

absl::Status EachState(store::Connection& connection, const store::Sql& sql,
                       absl::FunctionRef<void(v1::SubjectState state)> visit) {
  bool readable = true;
  absl::Status status = connection.Run(sql, {}, [&](const store::Row& row) {
    v1::SubjectState state;
    const std::string_view bytes = row.Bytes(0);
    readable &= state.ParseFromArray(bytes.data(), static_cast<int>(bytes.size()));
    if (readable) visit(std::move(state));
  });
  if (!status.ok()) return status;
  if (readable) return absl::OkStatus();
  return absl::DataLossError("a stored state cannot be read; run: ferruled rebuild");
}

// When a unit must be ready for the order: as the day begins on which it must be in the home, or
// the day of discharge or operation where no other is known, or when its hold lapses.
std::optional<int64_t> NeedOf(const v1::OrderState& order, const depot::Rules& rules) {
  const v1::OrderDetails& details = order.details();
  const absl::TimeZone zone = rules.ZoneOf(details.branch());
  for (const google::type::Date* day :
       {&details.needed_date(), &details.discharge_date(), &details.surgery_date()}) {
    if (time::IsValid(*day)) return time::StartOfDayMicros(time::ToDay(*day), zone);
  }
  if (order.has_hold_until_time()) return time::ToMicros(order.hold_until_time());
  return std::nullopt;
}

// Why the bench alone cannot make the unit ready; empty when it can.
std::string BlockedBy(const v1::UnitState& unit, const std::vector<v1::Finding>& findings) {
  for (const v1::Hold& hold : unit.holds()) {
    const bool treatable = hold.kind() == v1::HOLD_KIND_INFESTATION ||
                           hold.kind() == v1::HOLD_KIND_CONTAMINATION ||
                           hold.kind() == v1::HOLD_KIND_TESTER_DOUBT;
    if (!treatable) return finding::Words(hold.kind()) + " hold: " + hold.reason();
  }
  for (const v1::Finding& finding : findings) {
    switch (finding.reason()) {
      case v1::REASON_NOT_IN_CUSTODY:
        return "at the vendor " + unit.place();
      case v1::REASON_OUTSIDE_RENTAL_FLEET:
        return "not of the rental fleet";
      case v1::REASON_MODEL_UNKNOWN:
        return "its model is not in the settings";
      default:
        continue;
    }
  }
  return "";
}

class BenchGathering {
 public:
  BenchGathering(const depot::SettingsBook& book, int64_t now_us)
      : book_(book), rules_(book.At(now_us)), now_us_(now_us) {}

  void AddOrder(v1::OrderState order) {
    const std::optional<int64_t> need_us = NeedOf(order, rules_);
    const v1::OrderDetails& details = order.details();
    if (need_us) {
      bench::Demand& demand = demands_.emplace_back();
      demand.order = order.order();
      demand.branch = details.branch();
      demand.device_class = details.device_class();
      demand.side = details.side();
      demand.need_us = *need_us;
      if (order.status() == v1::ORDER_STATUS_HELD) demand.held_unit = order.unit();
    }
    const std::string id = order.order();
    orders_[id] = std::move(order);
  }

  void AddUnit(const v1::SubjectState& state, std::string_view branch) {
    const v1::UnitState& unit = state.unit();
    const bool in_house =
        unit.custody() == v1::CUSTODY_PLACE &&
        (unit.commitment() == v1::COMMITMENT_FREE || unit.commitment() == v1::COMMITMENT_HELD);
    if (!in_house) return;
    unit::ReadyQuery query;
    query.at_us = now_us_;
    const auto order = orders_.find(unit.order());
    if (unit.commitment() == v1::COMMITMENT_HELD) {
      query.order = unit.order();
      if (order != orders_.end()) FillFromOrder(order->second, rules_, &query);
    }
    const std::vector<v1::Finding> findings = unit::Assess(state, book_, query);
    bench::Candidate& candidate = candidates_.emplace_back();
    candidate.unit = unit.unit();
    candidate.branch = std::string(branch);
    candidate.place = unit.place();
    candidate.side = unit.side();
    if (const v1::Model* model = rules_.FindModel(unit.model())) {
      candidate.device_class = model->device_class();
      candidate.sided = model->sided();
    }
    candidate.ready = findings.empty();
    candidate.work = bench::WorkFor(findings);
    candidate.steps = unit::PathToReady(findings);
    candidate.minutes = bench::MinutesOf(candidate.work, rules_.settings().bench());
    candidate.blocked = BlockedBy(unit, findings);
    if (unit.commitment() == v1::COMMITMENT_HELD) candidate.held_order = unit.order();
  }

  std::vector<v1::BenchRow> Rows() {
    return bench::PlanBench(std::move(candidates_), std::move(demands_), now_us_);
  }

 private:
  const depot::SettingsBook& book_;
  const depot::Rules& rules_;
  const int64_t now_us_;
  std::map<std::string, v1::OrderState> orders_;
  std::vector<bench::Candidate> candidates_;
  std::vector<bench::Demand> demands_;
};

// How the units of the fleet are used: by unit, and rental days by model.
struct Use {
  std::map<std::string, bench::RunLog> logs;
  std::map<std::string, std::pair<int64_t, int64_t>> days_of_model;  // sum and count
};

absl::StatusOr<Use> UseOfFleet(ledger::Ledger& ledger, const UnitFilter& filter) {
  const auto book = ledger.Book();
  Use use;
  const absl::Status read = ledger.WithReader([&](store::Connection& connection) {
    return EachUnitsFacts(connection, Facts::kRun, filter,
                          [&](const std::string& name, const auto& facts) {
                            bench::RunLog& log = use.logs[name];
                            std::string model;
                            bench::Replay(name, facts, *book, [&](const bench::Moment& moment) {
                              log.Visit(moment);
                              model = moment.after.model();
                            });
                            if (log.rental_days() == 0) return;
                            auto& [sum, count] = use.days_of_model[model];
                            sum += log.rental_days();
                            ++count;
                          });
  });
  if (!read.ok()) return read;
  return use;
}

// The last day of the present rental, as the order says.
std::optional<absl::CivilDay> RentalEnd(ledger::Ledger& ledger, const v1::UnitState& unit,
                                        int64_t now_us, absl::TimeZone zone) {
  if (unit.custody() != v1::CUSTODY_HOME || unit.order().empty()) return std::nullopt;
  const auto order = ledger.Get(fact::SubjectName(fact::SubjectKind::kOrder, unit.order()));
  if (!order.ok()) return std::nullopt;
  return order::LastDayOfUse((*order)->order(), time::LocalDay(now_us, zone));
}

void CountService(const v1::ServiceRow& row, v1::ReportServiceResponse* response) {
  response->set_unit_count(response->unit_count() + 1);
  const bool overdue = row.standing() == v1::SERVICE_STANDING_OVERDUE ||
                       row.standing() == v1::SERVICE_STANDING_DEFERRED;
  if (!overdue) return;
  response->set_overdue_count(response->overdue_count() + 1);
  if (row.custody() == v1::CUSTODY_HOME) {
    response->set_overdue_at_home_count(response->overdue_at_home_count() + 1);
  }
  if (row.custody() == v1::CUSTODY_UNACCOUNTED) {
    response->set_overdue_unaccounted_count(response->overdue_unaccounted_count() + 1);
  }
}

// Units that an untrusted tester passed at any time: only their pasts are told again.
absl::StatusOr<std::set<std::string>> UnitsToAsk(
    store::Connection& connection, const std::map<std::string, v1::TesterState>& testers,
    const bench::SupposedDoubt* supposed) {
  std::set<std::string> names;
  const absl::Status read = EachUnitsFacts(
      connection, Facts::kInspections, {}, [&](const std::string& name, const auto& facts) {
        for (const fact::FactView& view : facts) {
          if (!view.fact().has_inspection_done()) continue;
          const std::string& tester = view.fact().inspection_done().tester();
          const bool asked = supposed != nullptr && supposed->tester == tester &&
                             supposed->from_us <= view.happened_us &&
                             view.happened_us < supposed->to_us;
          const auto known = testers.find(tester);
          // A day of slack: the exact local day is judged with the unit's place in hand.
          const bool doubtful =
              known != testers.end() &&
              unit::TrustIn(known->second, view.happened_us,
                            time::LocalDay(view.happened_us, absl::UTCTimeZone()) + 1) !=
                  unit::Trust::kCalibrated;
          if (asked || doubtful) names.insert(name);
        }
      });
  if (!read.ok()) return read;
  return names;
}

}  // namespace

absl::StatusOr<v1::ReportBenchResponse> ReportBench(ledger::Ledger& ledger,
                                                    const v1::ReportBenchRequest& request,
                                                    int64_t now_us) {
  if (request.row_count() < 0) {
    return absl::InvalidArgumentError("row_count is below 0: give 0 for all rows");
  }
  const auto book = ledger.Book();
  absl::Status status = depot::KnowBranch(book->At(now_us), request.branch());
  if (!status.ok()) return status;
  BenchGathering gathering(*book, now_us);
  status = ledger.WithReader([&](store::Connection& connection) -> absl::Status {
    absl::Status orders = EachState(
        connection, sql::kWaitingOrderStates,
        [&](v1::SubjectState state) { gathering.AddOrder(std::move(*state.mutable_order())); });
    if (!orders.ok()) return orders;
    return EachUnit(connection, {request.branch(), ""},
                    [&](const v1::SubjectState& state, std::string_view branch) {
                      gathering.AddUnit(state, branch);
                    });
  });
  if (!status.ok()) return status;
  v1::ReportBenchResponse response;
  time::SetMicros(now_us, response.mutable_at_time());
  for (v1::BenchRow& row : gathering.Rows()) {
    if (request.row_count() > 0 && response.rows_size() == request.row_count()) break;
    *response.add_rows() = std::move(row);
  }
  return response;
}

absl::StatusOr<v1::ReportServiceResponse> ReportService(ledger::Ledger& ledger,
                                                        const v1::ReportServiceRequest& request,
                                                        int64_t now_us) {
  constexpr int kUsualDaysAhead = 30;
  const auto book = ledger.Book();
  const depot::Rules& rules = book->At(now_us);
  absl::Status status = depot::KnowBranch(rules, request.branch());
  if (!status.ok()) return status;
  if (request.has_through_date() && !time::IsValid(request.through_date())) {
    return absl::InvalidArgumentError("through_date is no day of the calendar");
  }
  const UnitFilter filter{request.branch(), ""};
  const auto use = UseOfFleet(ledger, filter);
  if (!use.ok()) return use.status();
  std::vector<v1::SubjectState> units;
  std::vector<std::string> branches;
  status = ledger.WithReader([&](store::Connection& connection) {
    return EachUnit(connection, filter,
                    [&](const v1::SubjectState& state, std::string_view branch) {
                      units.push_back(state);
                      branches.emplace_back(branch);
                    });
  });
  if (!status.ok()) return status;
  std::vector<v1::ServiceRow> rows;
  v1::ReportServiceResponse response;
  for (size_t i = 0; i < units.size(); ++i) {
    const v1::UnitState& unit = units[i].unit();
    const v1::Model* model = rules.FindModel(unit.model());
    const v1::ServicePlan* plan =
        model == nullptr ? nullptr : rules.FindServicePlan(model->service_plan());
    if (plan == nullptr) continue;
    bench::ServiceOutlook outlook;
    outlook.now_us = now_us;
    outlook.zone = rules.ZoneOf(branches[i]);
    const absl::CivilDay today = time::LocalDay(now_us, outlook.zone);
    outlook.through =
        request.has_through_date() ? time::ToDay(request.through_date()) : today + kUsualDaysAhead;
    outlook.rental_ends = RentalEnd(ledger, unit, now_us, outlook.zone);
    const auto log = use->logs.find(units[i].name());
    if (log != use->logs.end()) {
      outlook.daily_use_s = log->second.daily_use_s();
      outlook.next_rental_days = log->second.rental_days();
    }
    const auto model_days = use->days_of_model.find(unit.model());
    if (outlook.next_rental_days == 0 && model_days != use->days_of_model.end()) {
      const auto& [sum, count] = model_days->second;
      outlook.next_rental_days = static_cast<int>((sum + count - 1) / count);
    }
    v1::ServiceRow row = bench::StandingOf(unit, *plan, outlook);
    row.set_branch(branches[i]);
    CountService(row, &response);
    if (row.standing() != v1::SERVICE_STANDING_NOT_DUE) rows.push_back(std::move(row));
  }
  std::sort(rows.begin(), rows.end(), bench::MoreUrgent);
  for (v1::ServiceRow& row : rows) *response.add_rows() = std::move(row);
  return response;
}

absl::StatusOr<v1::ReportDoubtsResponse> ReportDoubts(ledger::Ledger& ledger,
                                                      const v1::ReportDoubtsRequest& request,
                                                      int64_t now_us) {
  const bool window = request.has_from_time() || request.has_to_time();
  if (window && (request.tester().empty() || !request.has_from_time() || !request.has_to_time())) {
    return absl::InvalidArgumentError(
        "a window needs the tester, from_time and to_time: give all three");
  }
  const bench::SupposedDoubt supposed{request.tester(), time::ToMicros(request.from_time()),
                                      time::ToMicros(request.to_time())};
  const bench::SupposedDoubt* const what_if = window ? &supposed : nullptr;
  const auto book = ledger.Book();
  const depot::Rules& rules = book->At(now_us);
  std::map<std::string, v1::TesterState> testers;
  std::set<std::string> names;
  std::vector<bench::Standing> standing;
  absl::Status status = ledger.WithReader([&](store::Connection& connection) -> absl::Status {
    absl::Status read = EachState(connection, sql::kTesterStates, [&](v1::SubjectState state) {
      testers[state.tester().tester()] = std::move(*state.mutable_tester());
    });
    if (!read.ok()) return read;
    auto asked = UnitsToAsk(connection, testers, what_if);
    if (!asked.ok()) return asked.status();
    names = *std::move(asked);
    if (!request.tester().empty()) return absl::OkStatus();
    return EachUnit(connection, {}, [&](const v1::SubjectState& state, std::string_view) {
      const v1::UnitState& unit = state.unit();
      const v1::Place* place = rules.FindPlace(unit.place());
      if (unit.custody() != v1::CUSTODY_PLACE || place == nullptr) return;
      bench::Standing& here = standing.emplace_back();
      here.unit = unit.unit();
      here.place = unit.place();
      here.kind = place->kind();
      here.clean = unit.hygiene() == v1::HYGIENE_CLEANED;
      here.sealed = !unit.seal().empty();
      here.infested = std::any_of(
          unit.holds().begin(), unit.holds().end(),
          [](const v1::Hold& hold) { return hold.kind() == v1::HOLD_KIND_INFESTATION; });
      here.since = unit.custody_since();
      here.state = unit;
    });
  });
  if (!status.ok()) return status;
  std::vector<v1::DoubtRow> rows = bench::BesideSoiled(standing);
  for (const std::string& name : names) {
    const auto now = ledger.Get(name);
    if (!now.ok()) return now.status();
    bench::DoubtfulPasses passes(*book, testers, what_if);
    status = WithFactsOf(ledger, name, 0, [&](const std::string& unit, const auto& facts) {
      bench::Replay(unit, facts, *book, [&](const bench::Moment& moment) { passes.Visit(moment); });
    });
    if (!status.ok()) return status;
    for (v1::DoubtRow& row : passes.Rows((*now)->unit())) {
      if (request.tester().empty() || row.tester() == request.tester()) {
        rows.push_back(std::move(row));
      }
    }
  }
  std::sort(rows.begin(), rows.end(), bench::MoreRisky);
  v1::ReportDoubtsResponse response;
  for (v1::DoubtRow& row : rows) *response.add_rows() = std::move(row);
  for (auto& [id, tester] : testers) {
    if (request.tester().empty() || id == request.tester()) {
      *response.add_testers() = std::move(tester);
    }
  }
  return response;
}

absl::StatusOr<v1::ReportMissingAccessoriesResponse> ReportMissingAccessories(
    ledger::Ledger& ledger, const v1::ReportMissingAccessoriesRequest& request, int64_t now_us) {
  const auto book = ledger.Book();
  const depot::Rules& rules = book->At(now_us);
  absl::Status status = depot::KnowBranch(rules, request.branch());
  if (!status.ok()) return status;
  v1::ReportMissingAccessoriesResponse response;
  const auto add = [&](const v1::UnitState& unit) {
    for (auto& row : bench::MissingOf(unit, rules.FindModel(unit.model()))) {
      *response.add_rows() = std::move(row);
    }
  };
  if (!request.unit().empty()) {
    const auto state = ledger.Get(fact::SubjectName(fact::SubjectKind::kUnit, request.unit()));
    if (!state.ok()) return state.status();
    add((*state)->unit());
    return response;
  }
  status = ledger.WithReader([&](store::Connection& connection) {
    return EachUnit(connection, {request.branch(), ""},
                    [&](const v1::SubjectState& state, std::string_view) { add(state.unit()); });
  });
  if (!status.ok()) return status;
  return response;
}

}  // namespace ferrule::board
