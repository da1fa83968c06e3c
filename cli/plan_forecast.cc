// The forecast of units needed: shown, drawn, and kept in the diary.
#include <algorithm>
#include <cmath>
#include <limits>

#include "absl/strings/str_cat.h"
#include "absl/strings/str_format.h"
#include "cli/catalog.h"
#include "cli/plan_ask.h"
#include "cli/render_words.h"
#include "cli/report.h"
#include "core/fact/counted.h"
#include "ferrule/v1/plan_service.grpc.pb.h"

namespace ferrule::cli {
namespace {

constexpr double kGap = std::numeric_limits<double>::quiet_NaN();

absl::Status AskForecast(Session& session, const Line& line, v1::GetForecastResponse* response) {
  v1::GetForecastRequest request;
  PutBranchAndClass(line, &request);
  Values values(session);
  IfGiven(values.Whole("--days"),
          [&](int64_t v) { request.set_horizon_days(static_cast<int>(v)); });
  IfGiven(values.Whole("--seed"), [&](int64_t v) { request.set_seed(v); });
  if (!values.status().ok()) return values.status();
  if (absl::Status status = PutKnownAt(session, &request); !status.ok()) return status;
  request.set_explain(line.Has("--explain"));
  return AskPlan(session, &v1::PlanService::StubInterface::GetForecast, request, response);
}

Table DayTable(const v1::GetForecastResponse& response) {
  Table table({{"branch"},
               {"device_class"},
               {"date"},
               {"mean", true},
               {"low_95", true},
               {"low_80", true},
               {"median", true},
               {"high_80", true},
               {"q95", true},
               {"high_95", true},
               {"q99", true},
               {"units", true},
               {"short", true},
               {"out", true},
               {"booked", true},
               {"to_come", true}});
  for (const v1::ClassForecast& f : response.forecasts()) {
    for (const v1::ForecastDay& d : f.days()) {
      table.Add({f.branch(), f.device_class(), Day(d.date()), Decimal(d.mean_units()),
                 absl::StrCat(d.low_95()), absl::StrCat(d.low_80()), absl::StrCat(d.median()),
                 absl::StrCat(d.high_80()), absl::StrCat(d.q95()), absl::StrCat(d.high_95()),
                 absl::StrCat(d.q99()), absl::StrCat(f.unit_count() - f.blocked_count()),
                 Decimal(d.short_probability(), 4), Decimal(d.out_units()),
                 Decimal(d.booked_units()), Decimal(d.to_come_units())});
    }
  }
  return table;
}

// One day as a line: '-' within the 95 % bounds, '=' within the 80 % bounds, 'o' the median, '|'
// the fleet.
std::string Strip(const v1::ForecastDay& day, int64_t units, int64_t most, int width) {
  std::string strip(static_cast<size_t>(width) + 1, ' ');
  const auto at = [&](int64_t n) {
    return static_cast<size_t>(std::lround(static_cast<double>(std::min(n, most)) * width /
                                           static_cast<double>(std::max<int64_t>(most, 1))));
  };
  for (size_t i = at(day.low_95()); i <= at(day.high_95()); ++i) strip[i] = '-';
  for (size_t i = at(day.low_80()); i <= at(day.high_80()); ++i) strip[i] = '=';
  strip[at(day.median())] = 'o';
  strip[at(units)] = '|';
  return strip;
}

std::string RiskText(const v1::ClassForecast& f) {
  const v1::ShortageRisk& risk = f.risk();
  std::string text =
      absl::StrCat("  short on the worst day (", Day(risk.worst_date()),
                   "): ", Percent(risk.worst_day_probability()), "; on at least one of ",
                   fact::Counted(f.days_size(), "day", "days"), ": ",
                   Percent(risk.at_least_once_probability()), "\n");
  absl::StrAppend(&text, "  enough for every day at ", Percent(risk.target_probability(), 0),
                  " risk: ", fact::Counted(risk.enough_units_count(), "unit", "units"),
                  "; expected short ", Decimal(risk.short_unit_days()), ", spare ",
                  Decimal(risk.spare_unit_days(), 0), " unit-days\n");
  if (risk.has_first_short_date()) {
    absl::StrAppend(&text, "  first short day: ", Day(risk.first_short_date()), ": ",
                    Printable(risk.first_short_cause()), "\n");
  }
  return text;
}

std::string ForecastText(const v1::ClassForecast& f, absl::TimeZone zone) {
  std::string text = absl::StrCat(
      Printable(f.branch()), " ", Printable(f.device_class()), ": ",
      fact::Counted(f.unit_count(), "unit", "units"),
      f.blocked_count() > 0 ? absl::StrCat(" (", f.blocked_count(), " held back)") : "", ", ",
      f.in_use_count(), " in use, ", fact::Counted(f.booked_count(), "order", "orders"),
      " waiting, ", Decimal(f.orders_per_day(), 2), " more a day expected\n", RiskText(f));
  int64_t most = f.unit_count();
  for (const v1::ForecastDay& d : f.days()) most = std::max(most, d.high_95());
  for (int i = 0; i < f.days_size(); ++i) {
    const v1::ForecastDay& d = f.days(i);
    // Every day of the first week, then the seventh ones.
    if (i >= 7 && (i + 1) % 7 != 0 && i + 1 != f.days_size()) continue;
    absl::StrAppendFormat(&text, "  %s %4d  (80 %%: %3d-%3d)  short %5.1f %%  %s\n", Day(d.date()),
                          d.median(), d.low_80(), d.high_80(), 100 * d.short_probability(),
                          Strip(d, f.unit_count() - f.blocked_count(), most, 34));
  }
  absl::StrAppend(&text, "  rests on ", fact::Counted(f.history_count(), "operation", "operations"),
                  ": ", Printable(f.basis()), "\n");
  if (f.refused_count() > 0) {
    absl::StrAppend(
        &text, "  ",
        fact::Counted(f.refused_count(),
                      "order refused or left waiting in the last year counts as demand\n",
                      "orders refused or left waiting in the last year count as demand\n"));
  }
  if (f.records_size() > 0) text += "  behind the worst day, the greatest part first:\n";
  for (const v1::ForecastRecord& r : f.records()) {
    absl::StrAppend(&text, "    ", Percent(r.worst_day_probability(), 0), "  ", Printable(r.name()),
                    r.unit().empty() ? "" : " with " + Printable(r.unit()), ": ",
                    Printable(r.text()), ", ", StampWords(r.since(), zone), "\n");
  }
  return text + "\n";
}

void AddPictures(const v1::ClassForecast& f, Page* page) {
  page->Heading(absl::StrCat(f.branch(), ", ", f.device_class()));
  const v1::ShortageRisk& risk = f.risk();
  page->Paragraph(absl::StrCat(
      fact::Counted(f.unit_count(), "unit", "units"), ", ", f.in_use_count(), " in use, ",
      fact::Counted(f.booked_count(), "order", "orders"), " waiting. Short on the worst day (",
      Day(risk.worst_date()), ") with a chance of ", Percent(risk.worst_day_probability()),
      ", on at least one day with ", Percent(risk.at_least_once_probability()),
      ". Enough for every day at a risk of ", Percent(risk.target_probability(), 0), ": ",
      fact::Counted(risk.enough_units_count(), "unit.", "units.")));
  if (risk.has_first_short_date()) {
    page->Warning(absl::StrCat("First short day: ", Day(risk.first_short_date()), ". ",
                               risk.first_short_cause(), "."));
  }
  Chart fan;
  fan.title = absl::StrCat("Units of ", f.device_class(), " needed at ", f.branch());
  fan.description = absl::StrCat(
      "Units in use on the past days, then the median and the 80 and 95 percent bounds of the "
      "coming "
      "days against ",
      fact::Counted(f.unit_count() - f.blocked_count(), "unit", "units"),
      " that can go out. The table below has the numbers.");
  fan.unit = "units in use at the day's end";
  ChartLine past{"in use until today", ChartLine::Look::kMain, {}};
  ChartLine median{"median", ChartLine::Look::kMain, {}};
  ChartLine fleet{"units that can go out", ChartLine::Look::kLimit, {}};
  ChartBand outer{"95 % bounds", false, {}, {}}, inner{"80 % bounds", true, {}, {}};
  Chart risk_chart;
  risk_chart.title = "Chance of being short, day by day";
  risk_chart.description = "The chance that more units are wanted than there are, on each day.";
  risk_chart.unit = "%";
  ChartLine short_line{"short on the day", ChartLine::Look::kMain, {}};
  ChartLine target{"chance that is taken", ChartLine::Look::kLimit, {}};
  const double units = f.unit_count() - f.blocked_count();
  for (const v1::PastDay& d : f.past_days()) {
    fan.steps.push_back(ShortDay(d.date()));
    past.values.push_back(d.in_use_count());
    median.values.push_back(kGap);
    fleet.values.push_back(d.unit_count());
    for (auto* v : {&outer.low, &outer.high, &inner.low, &inner.high}) v->push_back(kGap);
  }
  for (const v1::ForecastDay& d : f.days()) {
    fan.steps.push_back(ShortDay(d.date()));
    past.values.push_back(kGap);
    median.values.push_back(static_cast<double>(d.median()));
    fleet.values.push_back(units);
    outer.low.push_back(static_cast<double>(d.low_95()));
    outer.high.push_back(static_cast<double>(d.high_95()));
    inner.low.push_back(static_cast<double>(d.low_80()));
    inner.high.push_back(static_cast<double>(d.high_80()));
    risk_chart.steps.push_back(ShortDay(d.date()));
    short_line.values.push_back(100 * d.short_probability());
    target.values.push_back(100 * risk.target_probability());
  }
  fan.lines = {past, median, fleet};
  fan.bands = {outer, inner};
  page->Add(fan);
  risk_chart.lines = {short_line, target};
  risk_chart.most = 100 * risk.target_probability() * 2;
  page->Add(risk_chart);
  page->Paragraph(absl::StrCat("Rests on ",
                               fact::Counted(f.history_count(), "operation", "operations"), ": ",
                               f.basis(), "."));
}

absl::Status Forecast(Session& session, const Line& line) {
  v1::GetForecastResponse response;
  if (absl::Status asked = AskForecast(session, line, &response); !asked.ok()) return asked;
  const auto why = session.Explanation();
  if (!why.ok()) return why.status();
  const Table table = DayTable(response);
  std::string text;
  for (const v1::ClassForecast& f : response.forecasts()) {
    text += ForecastText(f, session.zones().OfBranch(f.branch()));
  }
  if (text.empty()) {
    text = "nothing to forecast: no units and no orders yet\n";
  } else {
    absl::StrAppend(&text,
                    "One line a day: - 95 % bounds, = 80 % bounds, o median, | units that can go "
                    "out.\n",
                    kForecastCaution);
  }
  session.Show(response, table, text + *why);
  const absl::TimeZone zone = session.zones().OfBranch(line.Get("--branch").value_or(""));
  Page page("Units needed", absl::StrCat("As of ", Local(response.at_time(), zone), " (",
                                         zone.name(), "). ", kForecastCaution));
  for (const v1::ClassForecast& f : response.forecasts()) AddPictures(f, &page);
  page.Heading("The numbers");
  page.Add("Every day of every branch and class", table);
  return WritePage(session, page);
}

v1::ForecastNoted NotedOf(const v1::GetForecastResponse& response, const std::string& branch) {
  v1::ForecastNoted noted;
  noted.set_branch(branch);
  noted.set_program(FERRULE_VERSION);
  for (const v1::ClassForecast& f : response.forecasts()) {
    if (f.branch() != branch) continue;
    *noted.mutable_as_of_date() = f.as_of_date();
    v1::ClassForecastNoted& c = *noted.add_classes();
    c.set_device_class(f.device_class());
    c.set_unit_count(f.unit_count());
    c.set_basis(f.basis());
    for (const v1::ForecastDay& d : f.days()) {
      v1::ForecastDayNoted& kept = *c.add_days();
      kept.set_mean_units(d.mean_units());
      kept.set_low_95(d.low_95());
      kept.set_low_80(d.low_80());
      kept.set_median(d.median());
      kept.set_high_80(d.high_80());
      kept.set_q95(d.q95());
      kept.set_high_95(d.high_95());
      kept.set_q99(d.q99());
    }
  }
  return noted;
}

absl::Status NoteForecast(Session& session, const Line& line) {
  absl::StatusOr<Report> report = Report::Begin(session);
  if (!report.ok()) return report.status();
  v1::GetForecastResponse response;
  if (absl::Status asked = AskForecast(session, line, &response); !asked.ok()) return asked;
  std::string last;
  for (const v1::ClassForecast& f : response.forecasts()) {
    if (f.branch() == last) continue;
    last = f.branch();
    *report->Add()->mutable_forecast_noted() = NotedOf(response, last);
  }
  if (last.empty()) {
    return absl::FailedPreconditionError(
        "there is nothing to forecast yet: receive units or take orders first");
  }
  return report->Send("", "ferrule diary scores it when its days have come.");
}

}  // namespace

void AddForecastCommands(Catalog* catalog) {
  catalog->push_back({"forecast",
                      Group::kLook,
                      Kind::kReads,
                      "say how many units each branch will need, and the risk of being short",
                      {},
                      {kPlanBranch, kPlanClass, kPlanDays, kPlanSeed, kPlanHtml},
                      "ferrule forecast --branch north --class knee --html forecast.html",
                      Forecast});
  catalog->push_back({"note-forecast",
                      Group::kKeep,
                      Kind::kRecords,
                      "keep today's forecast, to be scored against what comes",
                      {},
                      {kPlanBranch, kPlanClass, kPlanDays},
                      "ferrule note-forecast --branch north",
                      NoteForecast});
}

}  // namespace ferrule::cli
