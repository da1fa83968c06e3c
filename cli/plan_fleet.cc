// How many units to keep, what to move, and what if.
#include <algorithm>
#include <cmath>

#include "absl/strings/match.h"
#include "absl/strings/str_cat.h"
#include "absl/strings/str_format.h"
#include "cli/catalog.h"
#include "cli/plan_ask.h"
#include "cli/render_words.h"
#include "cli/when.h"
#include "core/fact/counted.h"
#include "ferrule/v1/plan_service.grpc.pb.h"

namespace ferrule::cli {
namespace {

std::string CountOr(bool has, int64_t count) { return has ? absl::StrCat(count) : "-"; }

Table SizeTable(const v1::ReportFleetSizeResponse& response) {
  Table table({{"branch"},
               {"device_class"},
               {"units", true},
               {"now", true},
               {"formula_lost", true},
               {"simulated_lost", true},
               {"worst_day", true},
               {"at_least_once", true},
               {"short_a_day", true},
               {"profit_a_day", true},
               {"hire_cost_a_day", true},
               {"named_by"}});
  for (const v1::FleetSize& s : response.sizes()) {
    for (const v1::FleetPoint& p : s.points()) {
      std::string named;
      const auto name = [&](bool is, const char* rule) {
        if (is) absl::StrAppend(&named, named.empty() ? "" : " ", rule);
      };
      name(p.unit_count() == s.lost_rule_count(), "lost");
      name(p.unit_count() == s.wait_rule_count(), "wait");
      name(s.has_profit_rule_count() && p.unit_count() == s.profit_rule_count(), "profit");
      name(s.has_hire_rule_count() && p.unit_count() == s.hire_rule_count(), "hire");
      const bool profit = s.has_profit_rule_count(), hire = s.has_hire_rule_count();
      table.Add({s.branch(), s.device_class(), absl::StrCat(p.unit_count()),
                 p.unit_count() == s.unit_count() ? "now" : "", Percent(p.formula_lost_share()),
                 Percent(p.simulated_lost_share()), Percent(p.worst_day_probability()),
                 Percent(p.at_least_once_probability()), Decimal(p.short_units_per_day(), 2),
                 profit ? Money(p.profit_per_day_minor(), "") : "",
                 hire ? Money(p.hire_cost_per_day_minor(), "") : "", named});
    }
  }
  return table;
}

// Rules side by side: what each asks and answers.
std::string SizeText(const v1::FleetSize& s, const std::string& currency) {
  std::string text = absl::StrCat(
      Printable(s.branch()), " ", Printable(s.device_class()), ": ",
      fact::Counted(s.unit_count(), "unit", "units"), " now; ", Decimal(s.orders_per_day(), 2),
      " orders a day x ", Decimal(s.cycle_days()), " days of use; mean ", Decimal(s.mean_units()),
      ", peak ", Decimal(s.peak_units()), " units wanted\n");
  const auto rule = [&](const std::string& count, const std::string& words) {
    absl::StrAppendFormat(&text, "  %5s  %s\n", count, words);
  };
  rule(absl::StrCat(s.lost_rule_count()),
       absl::StrCat("when an order without a unit goes elsewhere: at most ",
                    Percent(s.lost_target_share()), " lost"));
  rule(absl::StrCat(s.wait_rule_count()),
       absl::StrCat("when it waits: short on no day with more than ",
                    Percent(s.short_day_target_probability()), " risk"));
  rule(CountOr(s.has_profit_rule_count(), s.profit_rule_count()),
       "when it is lost: the most rent less the cost of owning");
  rule(CountOr(s.has_hire_rule_count(), s.hire_rule_count()),
       "when another unit is hired in: the least cost");
  absl::StrAppend(&text, "  ", Printable(s.agreement()), "\n");
  const v1::CycleDay& d = s.day_less();
  absl::StrAppend(
      &text, "  one day less in the cycle frees ", Decimal(d.freed_units()),
      " units; with the units of now it loses ", Percent(d.lost_after_share()), " instead of ",
      Percent(d.lost_before_share()), ": ", Decimal(d.kept_orders_per_year()), " orders a year",
      d.worth_per_year_minor() > 0 ? absl::StrCat(", ", Money(d.worth_per_year_minor(), currency))
                                   : "",
      "\n");
  if (!s.missing_money().empty()) {
    absl::StrAppend(&text, "  the settings' planning.class_plans do not give ",
                    Printable(s.missing_money()), ", so not every rule can answer\n");
  }
  absl::StrAppend(&text, "  rests on: ", Printable(s.basis()), "\n");
  return text;
}

void AddSize(const v1::FleetSize& s, Page* page) {
  page->Heading(absl::StrCat(s.branch(), ", ", s.device_class()));
  page->Paragraph(s.agreement() + ".");
  Chart chart;
  chart.title = "Orders lost by size of the fleet";
  chart.description =
      "The share of orders that find no unit, by formula and by simulation, for each "
      "number of units, and the share that is taken.";
  chart.unit = "units (level), % of orders lost (upright)";
  ChartLine formula{"by formula", ChartLine::Look::kMain, {}};
  ChartLine drawn{"by simulation", ChartLine::Look::kFaint, {}};
  ChartLine target{"share that is taken", ChartLine::Look::kLimit, {}};
  for (const v1::FleetPoint& p : s.points()) {
    chart.steps.push_back(absl::StrCat(p.unit_count()));
    formula.values.push_back(100 * p.formula_lost_share());
    drawn.values.push_back(100 * p.simulated_lost_share());
    target.values.push_back(100 * s.lost_target_share());
  }
  chart.lines = {formula, drawn, target};
  page->Add(chart);
  std::vector<Bar> bars = {
      {"now", static_cast<double>(s.unit_count()), absl::StrCat(s.unit_count())},
      {"lost orders", static_cast<double>(s.lost_rule_count()), absl::StrCat(s.lost_rule_count())},
      {"waiting orders", static_cast<double>(s.wait_rule_count()),
       absl::StrCat(s.wait_rule_count())}};
  if (s.has_profit_rule_count()) {
    bars.push_back({"most profit", static_cast<double>(s.profit_rule_count()),
                    absl::StrCat(s.profit_rule_count())});
  }
  if (s.has_hire_rule_count()) {
    bars.push_back(
        {"hiring in", static_cast<double>(s.hire_rule_count()), absl::StrCat(s.hire_rule_count())});
  }
  page->AddBars("Units by each rule", "The units of now beside what each rule asks for.", bars);
}

absl::Status FleetSizes(Session& session, const Line& line) {
  v1::ReportFleetSizeRequest request;
  PutBranchAndClass(line, &request);
  Values values(session);
  IfGiven(values.Whole("--days"),
          [&](int64_t v) { request.set_horizon_days(static_cast<int>(v)); });
  IfGiven(values.Number("--lost"), [&](double v) { request.set_lost_target_share(v / 100); });
  IfGiven(values.Number("--risk"),
          [&](double v) { request.set_short_day_target_probability(v / 100); });
  IfGiven(values.Minor("--budget"), [&](int64_t v) { request.set_budget_minor(v); });
  IfGiven(values.Whole("--seed"), [&](int64_t v) { request.set_seed(v); });
  IfGiven(values.Whole("--paths"), [&](int64_t v) { request.set_path_count(static_cast<int>(v)); });
  if (!values.status().ok()) return values.status();
  if (absl::Status status = PutKnownAt(session, &request); !status.ok()) return status;
  v1::ReportFleetSizeResponse response;
  const absl::Status asked =
      AskPlan(session, &v1::PlanService::StubInterface::ReportFleetSize, request, &response);
  if (!asked.ok()) return asked;
  const auto why = session.Explanation();
  if (!why.ok()) return why.status();
  std::string text;
  for (const v1::FleetSize& s : response.sizes()) text += SizeText(s, response.currency());
  for (const v1::PooledSize& pool : response.pools()) {
    absl::StrAppend(&text, "All branches of ", Printable(pool.device_class()), ": ",
                    fact::Counted(pool.apart_count(), "unit", "units"), " apart, ",
                    pool.pooled_count(), " in one pool at the same share lost\n");
  }
  if (request.budget_minor() > 0 && response.purchases().empty()) {
    text += "The budget buys nothing that pays, or the settings give no rent and no price.\n";
  }
  for (const v1::Purchase& p : response.purchases()) {
    absl::StrAppend(&text, "Buy: ", Printable(p.branch()), " ", Printable(p.device_class()),
                    ", unit no. ", p.unit_number(), " for ",
                    Money(p.price_minor(), response.currency()), ", brings ",
                    Money(p.gain_per_year_minor(), response.currency()), " a year\n");
  }
  if (text.empty()) text = "no units and no orders yet\n";
  absl::StrAppend(&text, kForecastCaution);
  const Table table = SizeTable(response);
  session.Show(response, table, text + *why);
  Page page("How many units to keep",
            absl::StrCat("As of ", time::FormatUtc(time::ToMicros(response.at_time())), ". ",
                         kForecastCaution));
  for (const v1::FleetSize& s : response.sizes()) AddSize(s, &page);
  page.Heading("The numbers");
  page.Add("Every size looked at", table);
  return WritePage(session, page);
}

absl::Status Transfers(Session& session, const Line& line) {
  v1::ReportTransfersRequest request;
  request.set_device_class(line.Get("--class").value_or(""));
  Values values(session);
  IfGiven(values.Whole("--days"),
          [&](int64_t v) { request.set_horizon_days(static_cast<int>(v)); });
  if (!values.status().ok()) return values.status();
  if (absl::Status status = PutKnownAt(session, &request); !status.ok()) return status;
  v1::ReportTransfersResponse response;
  const absl::Status asked =
      AskPlan(session, &v1::PlanService::StubInterface::ReportTransfers, request, &response);
  if (!asked.ok()) return asked;
  const auto why = session.Explanation();
  if (!why.ok()) return why.status();
  Table moves({{"from"},
               {"to"},
               {"device_class"},
               {"units", true},
               {"which"},
               {"cost", true},
               {"usable"},
               {"saves_unit_days", true}});
  for (const v1::Transfer& t : response.transfers()) {
    moves.Add({t.from_branch(), t.to_branch(), t.device_class(), absl::StrCat(t.unit_count()),
               Joined(t.units()), Money(t.cost_minor(), response.currency()), Day(t.usable_date()),
               Decimal(t.saved_unit_days())});
  }
  Table balances({{"branch"},
                  {"device_class"},
                  {"units", true},
                  {"ready", true},
                  {"enough", true},
                  {"spare", true},
                  {"worst_day"}});
  for (const v1::BranchBalance& b : response.balances()) {
    balances.Add({b.branch(), b.device_class(), absl::StrCat(b.unit_count()),
                  absl::StrCat(b.ready_count()), absl::StrCat(b.enough_units_count()),
                  absl::StrCat(b.spare_count()), Day(b.worst_date())});
  }
  std::string text = moves.empty() ? std::string() : moves.Text() + "\n";
  absl::StrAppend(&text, Printable(response.text()), "\n");
  if (line.Has("--explain") && !balances.empty()) absl::StrAppend(&text, "\n", balances.Text());
  session.Show(response, moves, text + *why);
  return absl::OkStatus();
}

// "2026-08-03..2026-08-09".
absl::StatusOr<std::pair<google::type::Date, google::type::Date>> ParseSpan(
    const std::string& text) {
  const size_t dots = text.find("..");
  const auto wrong = [&] {
    return absl::InvalidArgumentError(
        absl::StrCat("'", text, "' is no span of days; write 2026-08-03..2026-08-09"));
  };
  if (dots == std::string::npos) return wrong();
  const auto from = time::ParseDay(text.substr(0, dots)),
             to = time::ParseDay(text.substr(dots + 2));
  if (!from.ok() || !to.ok()) return wrong();
  return std::make_pair(time::FromDay(*from), time::FromDay(*to));
}

absl::Status ReadChanges(Session& session, const Line& line, v1::ReportWhatIfRequest* request) {
  Values values(session);
  for (const std::string& text : line.All("--away")) {
    const auto pair = ParsePair(text);
    if (!pair.ok()) {
      return absl::InvalidArgumentError(
          absl::StrCat("--away: write PRESCRIBER=FROM..THROUGH, for instance "
                       "--away D-7=2026-08-03..2026-08-09"));
    }
    const auto span = ParseSpan(pair->second);
    if (!span.ok()) return span.status();
    v1::PrescriberAway& away = *request->add_changes()->mutable_prescriber_away();
    away.set_prescriber(pair->first);
    *away.mutable_from_date() = span->first;
    *away.mutable_through_date() = span->second;
  }
  IfGiven(values.Whole("--length"), [&](int64_t v) {
    v1::OtherLength& length = *request->add_changes()->mutable_other_length();
    length.set_to_days(static_cast<int>(v));
    IfGiven(values.Whole("--from-length"),
            [&](int64_t from) { length.set_from_days(static_cast<int>(from)); });
    length.set_prescriber(line.Get("--prescriber").value_or(""));
  });
  IfGiven(values.Whole("--turnaround"), [&](int64_t v) {
    request->add_changes()->mutable_other_turnaround()->set_more_days(static_cast<int>(v));
  });
  IfGiven(values.Whole("--units"), [&](int64_t v) {
    request->add_changes()->mutable_more_units()->set_more_count(static_cast<int>(v));
  });
  IfGiven(values.Whole("--closet-par"), [&](int64_t v) {
    request->add_changes()->mutable_closet_par()->set_par_count(static_cast<int>(v));
  });
  IfGiven(values.Number("--demand"),
          [&](double v) { request->add_changes()->mutable_other_demand()->set_factor_ratio(v); });
  IfGiven(values.Whole("--days"),
          [&](int64_t v) { request->set_horizon_days(static_cast<int>(v)); });
  IfGiven(values.Whole("--seed"), [&](int64_t v) { request->set_seed(v); });
  IfGiven(values.Whole("--paths"),
          [&](int64_t v) { request->set_path_count(static_cast<int>(v)); });
  if (!values.status().ok()) return values.status();
  if (request->changes().empty()) {
    return absl::InvalidArgumentError(
        "say what changes: --away, --length, --turnaround, --units, --closet-par or --demand");
  }
  return absl::OkStatus();
}

std::string Figure(double value, const std::string& unit) {
  if (unit == "probability") return Percent(value);
  return unit == "%" ? Decimal(value) + " %" : Decimal(value);
}

absl::Status WhatIf(Session& session, const Line& line) {
  v1::ReportWhatIfRequest request;
  request.set_branch(line.Arg("BRANCH"));
  request.set_device_class(line.Arg("CLASS"));
  if (absl::Status read = ReadChanges(session, line, &request); !read.ok()) return read;
  if (absl::Status status = PutKnownAt(session, &request); !status.ok()) return status;
  v1::ReportWhatIfResponse response;
  const absl::Status asked =
      AskPlan(session, &v1::PlanService::StubInterface::ReportWhatIf, request, &response);
  if (!asked.ok()) return asked;
  const auto why = session.Explanation();
  if (!why.ok()) return why.status();
  Table table({{"figure"},
               {"unit"},
               {"as_it_is", true},
               {"changed", true},
               {"difference", true},
               {"error", true}});
  for (const v1::WhatIfRow& row : response.rows()) {
    const double error = row.difference_error_value();
    table.Add({row.text(), row.unit() == "probability" ? "%" : row.unit(),
               Figure(row.base_value(), row.unit()), Figure(row.changed_value(), row.unit()),
               Figure(row.changed_value() - row.base_value(), row.unit()),
               error > 0 ? "+-" + Figure(error, row.unit()) : ""});
  }
  std::string text = absl::StrCat("What if at ", Printable(response.branch()), " with ",
                                  Printable(response.device_class()), ":\n");
  for (const std::string& change : response.change_texts()) {
    absl::StrAppend(&text, "  - ", Printable(change), "\n");
  }
  absl::StrAppend(&text, "\n", table.Text(), "\nSeed ", response.seed(),
                  "; both sides meet the same chance. Rests on: ", Printable(response.basis()),
                  "\n", kForecastCaution);
  session.Show(response, table, text + *why);
  Page page(absl::StrCat("What if: ", response.branch(), ", ", response.device_class()),
            absl::StrCat("Seed ", response.seed(), ". ", kForecastCaution));
  for (const std::string& change : response.change_texts()) page.Paragraph(change + ".");
  Chart chart;
  chart.title = "Mean units wanted, as it is and changed";
  chart.description =
      "Two lines over the coming days: the mean units wanted as it is, and changed.";
  chart.unit = "units wanted";
  ChartLine base{"as it is", ChartLine::Look::kFaint, {}},
      changed{"changed", ChartLine::Look::kMain, {}};
  for (const v1::WhatIfDay& day : response.days()) {
    chart.steps.push_back(ShortDay(day.date()));
    base.values.push_back(day.base_units());
    changed.values.push_back(day.changed_units());
  }
  chart.lines = {changed, base};
  page.Add(chart);
  page.Heading("The numbers");
  page.Add("Side by side", table);
  return WritePage(session, page);
}

}  // namespace

void AddFleetPlanCommands(Catalog* catalog) {
  const Flag paths{"--paths", "N", "futures drawn; default 2000"};
  catalog->push_back(
      {"fleet-size",
       Group::kLook,
       Kind::kReads,
       "say how many units to keep, by every rule side by side with the money",
       {},
       {kPlanBranch,
        kPlanClass,
        kPlanDays,
        {"--lost", "PERCENT", "share of orders that may be lost; default the settings'"},
        {"--risk", "PERCENT", "risk of being short on a day that is taken"},
        {"--budget", "AMOUNT", "money for new units: what it buys, the best first"},
        kPlanSeed,
        paths,
        kPlanHtml},
       "ferrule fleet-size --class knee --budget 20000",
       FleetSizes});
  catalog->push_back({"suggest-transfers",
                      Group::kLook,
                      Kind::kReads,
                      "say which branch should send what where, at the least cost",
                      {},
                      {kPlanClass, kPlanDays},
                      "ferrule suggest-transfers --class knee",
                      Transfers});
  catalog->push_back(
      {"what-if",
       Group::kLook,
       Kind::kReads,
       "run the recorded year and the forecast again with something changed",
       {{"BRANCH", "the branch"}, {"CLASS", "the class of device"}},
       {{"--away", "PRESCRIBER=FROM..THROUGH", "the prescriber does not operate on these days",
         true},
        {"--length", "DAYS", "orders get this length of need"},
        {"--from-length", "DAYS", "only those with this length"},
        {"--prescriber", "REFERENCE", "only this prescriber's, for --length"},
        {"--turnaround", "DAYS", "days more from pick-up to ready, or fewer: --turnaround=-1"},
        {"--units", "N", "units more, or fewer: --units=-2"},
        {"--closet-par", "N", "units kept in each closet"},
        {"--demand", "FACTOR", "times as many orders, for instance 1.2"},
        kPlanDays,
        kPlanSeed,
        paths,
        kPlanHtml},
       "ferrule what-if north knee --units 2 --turnaround=-1",
       WhatIf});
}

}  // namespace ferrule::cli
