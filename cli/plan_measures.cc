// Measures with the records behind them, and how good forecasts were.
#include <unistd.h>

#include <algorithm>
#include <cstdio>

#include "absl/strings/str_cat.h"
#include "absl/strings/str_format.h"
#include "cli/catalog.h"
#include "cli/plan_ask.h"
#include "cli/render_words.h"
#include "cli/secure.h"
#include "core/fact/counted.h"
#include "ferrule/v1/plan_service.grpc.pb.h"

namespace ferrule::cli {
namespace {

std::string FigureWords(const v1::Measure& m) {
  if (!m.has_value()) return "nothing counted";
  return absl::StrCat(Decimal(m.value()), " ", m.unit());
}

Table MeasureTable(const v1::ReportMeasuresResponse& response) {
  Table table({{"measure"},
               {"part"},
               {"value", true},
               {"unit"},
               {"cases", true},
               {"open", true},
               {"numerator", true},
               {"denominator", true},
               {"text"}});
  for (const v1::Measure& m : response.measures()) {
    table.Add({m.measure(), "", m.has_value() ? Decimal(m.value(), 3) : "", m.unit(),
               absl::StrCat(m.case_count()), absl::StrCat(m.open_count()),
               Decimal(m.numerator_value(), 3), Decimal(m.denominator_value(), 3), m.text()});
    for (const v1::MeasurePart& part : m.parts()) {
      table.Add({m.measure(), part.text(), Decimal(part.value(), 3),
                 part.unit().empty() ? m.unit() : part.unit(), absl::StrCat(part.case_count()), "",
                 "", "", ""});
    }
  }
  return table;
}

std::string MeasureText(const v1::Measure& m, bool explain, absl::TimeZone zone) {
  std::string text =
      absl::StrFormat("  %-22s %-28s %s", m.measure(), FigureWords(m), Printable(m.text()));
  absl::StrAppend(&text, " (", fact::Counted(m.case_count(), "case", "cases"));
  if (m.open_count() > 0) absl::StrAppendFormat(&text, ", %d still open", m.open_count());
  text += ")\n";
  for (const v1::MeasurePart& part : m.parts()) {
    absl::StrAppendFormat(&text, "      %-38s %8s %s\n", Printable(part.text()),
                          Decimal(part.value(), 2), Printable(part.unit()));
  }
  if (!m.missing().empty()) absl::StrAppend(&text, "      note: ", Printable(m.missing()), "\n");
  if (!explain) return text;
  absl::StrAppend(&text, "      how: ", Printable(m.formula()), "\n      ",
                  Decimal(m.numerator_value(), 2), " over ", Decimal(m.denominator_value(), 2),
                  "; records: ", m.record_count(), "\n");
  for (const v1::MeasureRecord& r : m.records()) {
    absl::StrAppend(&text, "        ", Printable(r.name()), ": ", Printable(r.text()),
                    r.has_stamp() ? ", " + StampWords(r.stamp(), zone) : std::string(),
                    r.has_stamp() ? ", entry " + Printable(r.stamp().fact().entry_id()) : "", "\n");
  }
  if (m.record_count() > m.records_size() && m.records_size() > 0) {
    absl::StrAppend(&text, "        ... and ", m.record_count() - m.records_size(),
                    " more; --records N shows them\n");
  }
  return text;
}

std::string Heading(const std::string& word) {
  if (word == "fleet") return "The fleet";
  if (word == "cycle") return "Where the days go";
  if (word == "field") return "Homes and returns";
  if (word == "bench") return "The bench";
  if (word == "demand") return "What was asked for";
  if (word == "money") return "Money";
  if (word == "records") return "Orders and records";
  return word;
}

Page MeasurePage(const v1::ReportMeasuresResponse& response, const Table& table) {
  Page page(
      "Measures of the depot",
      absl::StrCat("From ", Day(response.from_date()), " through ", Day(response.through_date()),
                   ", as known ", time::FormatUtc(time::ToMicros(response.known_time())), "."));
  std::string heading;
  std::vector<Bar> shares;
  for (const v1::Measure& m : response.measures()) {
    if (m.heading() != heading) {
      heading = m.heading();
      page.Heading(Heading(heading));
    }
    page.Paragraph(absl::StrCat(
        m.text(), ": ", FigureWords(m), " (", fact::Counted(m.case_count(), "case", "cases"),
        m.open_count() > 0 ? absl::StrCat(", ", m.open_count(), " still open") : std::string(),
        "). ", m.missing().empty() ? "" : m.missing() + "."));
    if (m.measure() != "cycle-time") continue;
    std::vector<Bar> bars;
    for (const v1::MeasurePart& part : m.parts()) {
      if (part.text().find(',') != std::string::npos) continue;  // medians stand in the table
      bars.push_back({part.text(), part.value(), Decimal(part.value())});
    }
    if (!bars.empty()) {
      page.AddBars("Where the days of a turn go",
                   "Mean days of each stage between one set-out and the next; they add up to the "
                   "whole turn.",
                   bars);
    }
  }
  page.Heading("The numbers");
  page.Add("Every measure and part", table);
  return page;
}

absl::Status Measures(Session& session, const Line& line) {
  v1::ReportMeasuresRequest request;
  PutBranchAndClass(line, &request);
  request.set_measure(line.Arg("MEASURE"));
  request.set_explain(line.Has("--explain"));
  Values values(session);
  IfGiven(values.Day("--from"),
          [&](const google::type::Date& v) { *request.mutable_from_date() = v; });
  IfGiven(values.Day("--through"),
          [&](const google::type::Date& v) { *request.mutable_through_date() = v; });
  IfGiven(values.Whole("--records"),
          [&](int64_t v) { request.set_record_limit(static_cast<int>(v)); });
  if (!values.status().ok()) return values.status();
  if (absl::Status status = PutKnownAt(session, &request); !status.ok()) return status;
  v1::ReportMeasuresResponse response;
  const absl::Status asked =
      AskPlan(session, &v1::PlanService::StubInterface::ReportMeasures, request, &response);
  if (!asked.ok()) return asked;
  const auto why = session.Explanation();
  if (!why.ok()) return why.status();
  const absl::TimeZone zone = session.zones().OfBranch(request.branch());
  std::string text =
      absl::StrCat("From ", Day(response.from_date()), " through ", Day(response.through_date()),
                   ", as known ", Local(response.known_time(), zone), " (", zone.name(), "):\n");
  std::string heading;
  for (const v1::Measure& m : response.measures()) {
    if (m.heading() != heading) {
      heading = m.heading();
      absl::StrAppend(&text, Heading(heading), "\n");
    }
    text += MeasureText(m, request.explain(), zone);
  }
  const Table table = MeasureTable(response);
  session.Show(response, table, text + *why);
  return WritePage(session, MeasurePage(response, table));
}

Table ScoreTable(const v1::ForecastScores& scores) {
  Table table({{"branch"},
               {"device_class"},
               {"days_ahead"},
               {"cases", true},
               {"error", true},
               {"of_naive", true},
               {"wape", true},
               {"bias", true},
               {"scaled_loss", true},
               {"naive_loss", true},
               {"inside_80", true},
               {"inside_95", true},
               {"below_q95", true}});
  for (const v1::ScoreRow& row : scores.rows()) {
    const bool last = row.through_ahead_days() >= 365;
    table.Add({row.branch(), row.device_class(),
               last ? absl::StrCat(row.from_ahead_days(), " and more")
                    : absl::StrCat(row.from_ahead_days(), "-", row.through_ahead_days()),
               absl::StrCat(row.case_count()), Decimal(row.error_units(), 2),
               Decimal(row.naive_ratio(), 2), Percent(row.weighted_error_share()),
               Percent(row.bias_share()), Decimal(row.scaled_loss_ratio(), 3),
               Decimal(row.naive_loss_ratio(), 3), Percent(row.inside_80_share(), 0),
               Percent(row.inside_95_share(), 0), Percent(row.below_q95_share(), 0)});
  }
  return table;
}

std::string ScoreText(const v1::ForecastScores& scores, const Table& table) {
  std::string text = table.empty() ? std::string() : table.Text();
  for (const std::string& sentence : scores.texts()) {
    absl::StrAppend(&text, Printable(sentence), "\n");
  }
  return text;
}

void AddScores(const v1::ForecastScores& scores, Page* page) {
  if (scores.pit_share_size() > 0) {
    std::vector<Bar> bars;
    for (int b = 0; b < scores.pit_share_size(); ++b) {
      bars.push_back({absl::StrFormat("%d-%d %%", 10 * b, 10 * b + 10), scores.pit_share(b),
                      Percent(scores.pit_share(b))});
    }
    page->AddBars("Where what came lies in the forecast",
                  "Shares of days by tenth of the forecast; level bars mean that the odds can be "
                  "trusted.",
                  bars);
  }
  for (const std::string& sentence : scores.texts()) page->Paragraph(sentence + ".");
  page->Heading("The numbers");
  page->Add("By branch, class and days ahead", ScoreTable(scores));
}

absl::Status Backtest(Session& session, const Line& line) {
  v1::WatchBacktestRequest request;
  PutBranchAndClass(line, &request);
  Values values(session);
  IfGiven(values.Whole("--days"),
          [&](int64_t v) { request.set_horizon_days(static_cast<int>(v)); });
  IfGiven(values.Whole("--origins"),
          [&](int64_t v) { request.set_origin_count(static_cast<int>(v)); });
  IfGiven(values.Whole("--step"), [&](int64_t v) { request.set_step_days(static_cast<int>(v)); });
  if (!values.status().ok()) return values.status();
  if (absl::Status status = PutKnownAt(session, &request); !status.ok()) return status;
  const auto channel = session.Channel();
  if (!channel.ok()) return channel.status();
  const auto stub = v1::PlanService::NewStub(*channel);
  // No deadline: it says how far it is, and Ctrl-C ends it at the service, too.
  grpc::ClientContext context;
  if (absl::Status is_signed = Sign(session.target(), session.line(), &context); !is_signed.ok())
    return is_signed;
  const auto reader = stub->WatchBacktest(&context, request);
  v1::WatchBacktestResponse message;
  v1::ForecastScores scores;
  const bool terminal = isatty(STDERR_FILENO) != 0;
  while (reader->Read(&message)) {
    if (message.has_scores()) scores = message.scores();
    if (terminal) {
      std::fprintf(stderr, "\r%d of %d past days forecast and scored ", message.done_count(),
                   message.origin_count());
    }
  }
  if (terminal) std::fprintf(stderr, "\r%60s\r", "");
  if (absl::Status ended = FromGrpc(reader->Finish()); !ended.ok()) return ended;
  const auto why = session.Explanation();
  if (!why.ok()) return why.status();
  const Table table = ScoreTable(scores);
  session.Show(scores, table, ScoreText(scores, table) + *why);
  Page page("How good past forecasts would have been",
            "Each forecast was made with what was known on its day.");
  AddScores(scores, &page);
  return WritePage(session, page);
}

absl::Status Diary(Session& session, const Line& line) {
  v1::ReportForecastDiaryRequest request;
  PutBranchAndClass(line, &request);
  if (absl::Status status = PutKnownAt(session, &request); !status.ok()) return status;
  v1::ReportForecastDiaryResponse response;
  const absl::Status asked =
      AskPlan(session, &v1::PlanService::StubInterface::ReportForecastDiary, request, &response);
  if (!asked.ok()) return asked;
  const auto why = session.Explanation();
  if (!why.ok()) return why.status();
  const Table table = ScoreTable(response.scores());
  std::string text;
  if (response.has_first_as_of_date()) {
    absl::StrAppend(&text, "Forecasts kept from ", Day(response.first_as_of_date()), " to ",
                    Day(response.last_as_of_date()), "; ", response.noted_count(),
                    " have days that have come.\n");
  } else {
    text = "no forecast is kept yet; ferrule note-forecast keeps one\n";
  }
  session.Show(response, table, text + ScoreText(response.scores(), table) + *why);
  Page page("How the kept forecasts did", text);
  AddScores(response.scores(), &page);
  return WritePage(session, page);
}

}  // namespace

void AddMeasureCommands(Catalog* catalog) {
  catalog->push_back({"measures",
                      Group::kLook,
                      Kind::kReads,
                      "compute the depot's measures over a window of days",
                      {{"MEASURE", "only this one, for instance turnaround", Arity::kOptional}},
                      {kPlanBranch,
                       kPlanClass,
                       {"--from", "DAY", "first day; default 90 days before the last"},
                       {"--through", "DAY", "last day; default yesterday"},
                       {"--records", "N", "with --explain, at most so many a measure; default 50"},
                       kPlanHtml},
                      "ferrule measures turnaround --from 2026-01-01 --explain",
                      Measures});
  catalog->push_back({"backtest",
                      Group::kLook,
                      Kind::kReads,
                      "score forecasts from past days, each with what was known then",
                      {},
                      {kPlanBranch,
                       kPlanClass,
                       kPlanDays,
                       {"--origins", "N", "past days to forecast from; default 13"},
                       {"--step", "DAYS", "days between them; default 7"},
                       kPlanHtml},
                      "ferrule backtest --branch north --class knee",
                      Backtest});
  catalog->push_back({"diary",
                      Group::kLook,
                      Kind::kReads,
                      "score the forecasts that were kept against what came",
                      {},
                      {kPlanBranch, kPlanClass, kPlanHtml},
                      "ferrule diary --branch north",
                      Diary});
}

}  // namespace ferrule::cli
