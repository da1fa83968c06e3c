// Answers for the bench: what came in, what to do next, why it failed, what is in doubt, and what
// the records say of each unit's reliability.
#include "absl/strings/str_cat.h"
#include "cli/arrival_flags.h"
#include "cli/catalog.h"
#include "cli/render_bench.h"
#include "cli/render_findings.h"
#include "cli/render_words.h"
#include "cli/values.h"
#include "core/fact/counted.h"
#include "core/time/civil.h"
#include "ferrule/v1/bench_service.grpc.pb.h"

namespace ferrule::cli {
namespace {

using Bench = v1::BenchService::StubInterface;

constexpr char kCaution[] =
    "The maker's instructions, the standard in force, local codes and licensed practice rule.\n";

// For answers that are only given from everything known now.
absl::Status OnlyNow(Session& session) {
  if (!session.line().Has("--known-at")) return absl::OkStatus();
  return absl::InvalidArgumentError(
      "--known-at: this answer is made from everything known now; leave the flag out");
}

template <typename Request>
absl::Status SetKnownTime(Session& session, Request* request) {
  const auto known = session.KnownAt();
  if (!known.ok()) return known.status();
  if (known->has_value()) time::SetMicros(**known, request->mutable_known_time());
  return absl::OkStatus();
}

// Shows a table with a heading for none and lines below it.
absl::Status ShowTable(Session& session, const google::protobuf::Message& message,
                       const Table& table, std::string_view none, const std::string& below = "") {
  const auto why = session.Explanation();
  if (!why.ok()) return why.status();
  session.Show(message, table,
               absl::StrCat(table.empty() ? std::string(none) + "\n" : table.Text(), below, *why));
  return absl::OkStatus();
}

absl::Status Compare(Session& session, const Line& line) {
  if (absl::Status now = OnlyNow(session); !now.ok()) return now;
  Values values(session);
  v1::AssessReturnRequest request;
  ReadArrival(line, values, request.mutable_seen());
  IfGiven(values.Instant("--at"),
          [&](int64_t v) { time::SetMicros(v, request.mutable_at_time()); });
  if (!values.status().ok()) return values.status();
  v1::AssessReturnResponse response;
  const absl::Status asked = session.Ask(&Bench::AssessReturn, request, &response);
  if (!asked.ok()) return asked;
  const absl::TimeZone zone = session.zones().OfPlace(request.seen().place());
  std::string text;
  const v1::KitCount& kit = response.expected();
  if (kit.has_set_out()) {
    absl::StrAppend(
        &text, "Went out ", StampWords(kit.set_out(), zone), " with order ", kit.order(), ": ",
        kit.handed_over().empty() ? "no accessories listed" : Joined(kit.handed_over()), "\n");
  }
  if (kit.has_pickup()) {
    absl::StrAppend(&text, "Picked up ", StampWords(kit.pickup(), zone), ": ",
                    kit.picked_up().empty() ? "nobody counted" : Joined(kit.picked_up()),
                    kit.missing_at_pickup().empty()
                        ? ""
                        : absl::StrCat(", missing ", Joined(kit.missing_at_pickup())),
                    "\n");
  }
  for (const v1::PartIn& part : response.parts()) {
    absl::StrAppend(&text, "Should have ", part.position(), " ", part.part(), "\n");
  }
  absl::StrAppend(&text,
                  response.findings().empty()
                      ? "Nothing differs from the records.\n"
                      : absl::StrCat("What differs\n", FindingLines(response.findings())),
                  ProposalLines(response.proposals()));
  session.Show(response, FindingTable(response.findings(), zone), text);
  return absl::OkStatus();
}

absl::Status Strays(Session& session, const Line& line) {
  if (absl::Status now = OnlyNow(session); !now.ok()) return now;
  v1::ReportStraysRequest request;
  request.set_branch(line.Get("--branch").value_or(""));
  v1::ReportStraysResponse response;
  const absl::Status asked = session.Ask(&Bench::ReportStrays, request, &response);
  if (!asked.ok()) return asked;
  Table table({{"unit"}, {"place"}, {"reason"}, {"text"}, {"proposal"}, {"explanation"}});
  std::string text;
  for (const v1::Stray& stray : response.strays()) {
    const std::string reason = RuleWord(stray.question().reason());
    absl::StrAppend(&text, stray.unit(), " at ", stray.place(), ": ",
                    Printable(stray.question().text()), "  [", reason, "]\n",
                    ProposalLines(stray.proposals()));
    if (stray.proposals().empty()) {
      table.Add({stray.unit(), stray.place(), reason, stray.question().text(), "", ""});
    }
    for (const v1::Proposal& proposal : stray.proposals()) {
      table.Add({stray.unit(), stray.place(), reason, stray.question().text(),
                 Word(proposal.kind()), proposal.text()});
    }
  }
  const auto why = session.Explanation();
  if (!why.ok()) return why.status();
  session.Show(response, table,
               (text.empty() ? "nothing came in that should not be there\n" : text) + *why);
  return absl::OkStatus();
}

absl::Status MissingParts(Session& session, const Line& line) {
  if (absl::Status now = OnlyNow(session); !now.ok()) return now;
  v1::ReportMissingAccessoriesRequest request;
  request.set_unit(line.Arg("UNIT"));
  request.set_branch(line.Get("--branch").value_or(""));
  v1::ReportMissingAccessoriesResponse response;
  const absl::Status asked = session.Ask(&Bench::ReportMissingAccessories, request, &response);
  if (!asked.ok()) return asked;
  return ShowTable(session, response, MissingTable(response, session.zones()),
                   "nothing is missing");
}

absl::Status Cleanings(Session& session, const Line& line) {
  Values values(session);
  v1::ReportCleaningsRequest request;
  request.set_unit(line.Arg("UNIT"));
  request.set_product(line.Get("--product").value_or(""));
  request.set_product_lot(line.Get("--lot").value_or(""));
  IfGiven(values.Instant("--from"),
          [&](int64_t v) { time::SetMicros(v, request.mutable_from_time()); });
  if (!values.status().ok()) return values.status();
  const absl::Status known = SetKnownTime(session, &request);
  if (!known.ok()) return known;
  v1::ReportCleaningsResponse response;
  const absl::Status asked = session.Ask(&Bench::ReportCleanings, request, &response);
  if (!asked.ok()) return asked;
  return ShowTable(session, response, CleaningTable(response, session.zones().OfBranch("")),
                   "no cleaning answers that",
                   "Contact times are the labels' in force that day; the label rules.\n");
}

std::string RepeatLines(const v1::AssessFailureResponse& failure, absl::TimeZone zone) {
  std::string lines;
  for (const v1::RepeatedFailure& repeat : failure.repeats()) {
    absl::StrAppend(&lines, repeat.item(), " failed before, ", StampWords(repeat.before(), zone),
                    ", ", fact::Counted(repeat.days(), "day earlier", "days earlier"),
                    repeat.within_days() ? ": a repeat" : "",
                    repeat.has_repaired()
                        ? absl::StrCat("; repaired between ", StampWords(repeat.repaired(), zone))
                        : "; not repaired between",
                    "\n");
  }
  return lines;
}

absl::StatusOr<v1::AssessFailureResponse> AskFailure(Session& session, const Line& line) {
  Values values(session);
  v1::AssessFailureRequest request;
  request.set_name(absl::StrCat("units/", line.Arg("UNIT")));
  IfGiven(values.Whole("--days"),
          [&](int64_t v) { request.set_repeat_days(static_cast<int32_t>(v)); });
  if (!values.status().ok()) return values.status();
  const absl::Status known = SetKnownTime(session, &request);
  if (!known.ok()) return known;
  v1::AssessFailureResponse response;
  const absl::Status asked = session.Ask(&Bench::AssessFailure, request, &response);
  if (!asked.ok()) return asked;
  return response;
}

absl::Status WhyFailed(Session& session, const Line& line) {
  const auto failure = AskFailure(session, line);
  if (!failure.ok()) return failure.status();
  const absl::TimeZone zone = session.zones().OfBranch("");
  const Table inspections = InspectionTable(*failure, zone);
  const Table repairs = RepairTable(*failure, zone);
  const std::string repeats = RepeatLines(*failure, zone);
  const auto why = session.Explanation();
  if (!why.ok()) return why.status();
  std::string text = inspections.empty() ? "it was never inspected\n" : inspections.Text();
  if (!repeats.empty()) absl::StrAppend(&text, "\n", repeats);
  if (!repairs.empty()) absl::StrAppend(&text, "\nRepairs\n", repairs.Text());
  absl::StrAppend(&text, "\nReadings\n", TrendTable(failure->trends()).Text(),
                  "Each inspection is judged by the version in force that day. ", kCaution, *why);
  session.Show(*failure, inspections, text);
  return absl::OkStatus();
}

absl::Status ShowTrend(Session& session, const Line& line) {
  const auto failure = AskFailure(session, line);
  if (!failure.ok()) return failure.status();
  return ShowTable(session, *failure, TrendTable(failure->trends()), "no readings yet",
                   "A habit is drawn from the first readings since the last repair or changed "
                   "part; leaving it is a sign to look, no verdict.\n");
}

absl::Status Drift(Session& session, const Line& line) {
  if (absl::Status now = OnlyNow(session); !now.ok()) return now;
  v1::ReportDriftRequest request;
  request.set_branch(line.Get("--branch").value_or(""));
  request.set_model(line.Get("--model").value_or(""));
  request.set_all(line.Has("--all"));
  v1::ReportDriftResponse response;
  const absl::Status asked = session.Ask(&Bench::ReportDrift, request, &response);
  if (!asked.ok()) return asked;
  return ShowTable(session, response, TrendTable(response.trends()), "no reading drifts",
                   "Leaving a habit is a sign to look, no verdict.\n");
}

absl::Status ServiceDue(Session& session, const Line& line) {
  if (absl::Status now = OnlyNow(session); !now.ok()) return now;
  Values values(session);
  v1::ReportServiceRequest request;
  request.set_branch(line.Get("--branch").value_or(""));
  IfGiven(values.Day("--through"),
          [&](const google::type::Date& v) { *request.mutable_through_date() = v; });
  if (!values.status().ok()) return values.status();
  v1::ReportServiceResponse response;
  const absl::Status asked = session.Ask(&Bench::ReportService, request, &response);
  if (!asked.ok()) return asked;
  return ShowTable(
      session, response, ServiceTable(response), "no service comes due",
      absl::StrCat("Of ", fact::Counted(response.unit_count(), "unit", "units"), " under a plan ",
                   fact::Counted(response.overdue_count(), "is", "are"), " overdue, ",
                   response.overdue_at_home_count(), " of them at homes and ",
                   response.overdue_unaccounted_count(), " unaccounted for.\n", kCaution));
}

absl::Status RunHours(Session& session, const Line& line) {
  v1::GetRunHoursRequest request;
  request.set_name(absl::StrCat("units/", line.Arg("UNIT")));
  const absl::Status known = SetKnownTime(session, &request);
  if (!known.ok()) return known;
  v1::GetRunHoursResponse response;
  const absl::Status asked = session.Ask(&Bench::GetRunHours, request, &response);
  if (!asked.ok()) return asked;
  std::string below = absl::StrCat("True run hours: ", response.incomplete() ? "at least " : "",
                                   Hours(response.run_s()), "\n");
  if (response.daily_use_s() > 0) {
    absl::StrAppend(&below, "Hours a day on rent: ", Hours(response.daily_use_s()), "\n");
  }
  if (response.doubtful_count() > 0) {
    absl::StrAppend(&below, "Readings set aside: ", response.doubtful_count(),
                    "; ferrule questions says why\n");
  }
  return ShowTable(session, response, SegmentTable(response, session.zones().OfBranch("")),
                   "its meter was never read", below);
}

absl::Status BenchList(Session& session, const Line& line) {
  if (absl::Status now = OnlyNow(session); !now.ok()) return now;
  Values values(session);
  v1::ReportBenchRequest request;
  request.set_branch(line.Get("--branch").value_or(""));
  IfGiven(values.Whole("--limit"),
          [&](int64_t v) { request.set_row_count(static_cast<int32_t>(v)); });
  if (!values.status().ok()) return values.status();
  v1::ReportBenchResponse response;
  const absl::Status asked = session.Ask(&Bench::ReportBench, request, &response);
  if (!asked.ok()) return asked;
  return ShowTable(session, response, BenchTable(response, session.zones()),
                   "nothing is left to do",
                   "Slack is the time left once the work is done without a pause; below 0 the "
                   "promise is missed unless another unit serves it.\n");
}

absl::Status Doubts(Session& session, const Line& line) {
  if (absl::Status now = OnlyNow(session); !now.ok()) return now;
  Values values(session);
  v1::ReportDoubtsRequest request;
  request.set_tester(line.Get("--tester").value_or(""));
  IfGiven(values.Instant("--from"),
          [&](int64_t v) { time::SetMicros(v, request.mutable_from_time()); });
  IfGiven(values.Instant("--to"),
          [&](int64_t v) { time::SetMicros(v, request.mutable_to_time()); });
  if (!values.status().ok()) return values.status();
  v1::ReportDoubtsResponse response;
  const absl::Status asked = session.Ask(&Bench::ReportDoubts, request, &response);
  if (!asked.ok()) return asked;
  const bool unheard = line.Has("--tester") && response.testers().empty();
  return ShowTable(session, response, DoubtTable(response, session.zones()),
                   unheard
                       ? absl::StrCat("nothing is in doubt: neither a calibration nor a doubt of "
                                      "tester ",
                                      request.tester(), " is recorded; compare the name")
                       : "nothing is in doubt",
                   "Rank 1 is at a patient's home, 2 unaccounted for, 3 ready to go, 4 in the "
                   "depot, 5 settled by a later pass.\n");
}

absl::Status Failing(Session& session, const Line& line) {
  if (absl::Status now = OnlyNow(session); !now.ok()) return now;
  Values values(session);
  v1::ReportFailingUnitsRequest request;
  request.set_model(line.Get("--model").value_or(""));
  request.set_all(line.Has("--all"));
  IfGiven(values.Instant("--from"),
          [&](int64_t v) { time::SetMicros(v, request.mutable_from_time()); });
  if (!values.status().ok()) return values.status();
  v1::ReportFailingUnitsResponse response;
  const absl::Status asked = session.Ask(&Bench::ReportFailingUnits, request, &response);
  if (!asked.ok()) return asked;
  return ShowTable(session, response, FailingTable(response),
                   absl::StrCat("none of ", fact::Counted(response.unit_count(), "unit", "units"),
                                " fails beyond chance"),
                   absl::StrCat("Method: ", Printable(response.note()), ".\n"));
}

absl::Status Reliability(Session& session, const Line& line) {
  if (absl::Status now = OnlyNow(session); !now.ok()) return now;
  Values values(session);
  v1::ReportReliabilityRequest request;
  request.set_model(line.Get("--model").value_or(""));
  IfGiven(values.Instant("--from"),
          [&](int64_t v) { time::SetMicros(v, request.mutable_from_time()); });
  IfGiven(values.Number("--confidence"), [&](double v) { request.set_confidence_share(v); });
  if (!values.status().ok()) return values.status();
  v1::ReportReliabilityResponse response;
  const absl::Status asked = session.Ask(&Bench::ReportReliability, request, &response);
  if (!asked.ok()) return asked;
  return ShowTable(session, response, ReliabilityTable(response), "no units yet",
                   absl::StrCat("Method: ", Printable(response.note()), ".\n"));
}

absl::Status Retire(Session& session, const Line& line) {
  if (absl::Status now = OnlyNow(session); !now.ok()) return now;
  Values values(session);
  v1::AssessRepairRequest request;
  request.set_name(absl::StrCat("units/", line.Arg("UNIT")));
  IfGiven(values.Minor("--repair-cost"), [&](int64_t v) { request.set_repair_cost_minor(v); });
  if (!values.status().ok()) return values.status();
  v1::AssessRepairResponse r;
  const absl::Status asked = session.Ask(&Bench::AssessRepair, request, &r);
  if (!asked.ok()) return asked;
  const auto money = [](int64_t minor) {
    return minor < 0 ? std::string("not known") : Rounded(static_cast<double>(minor) / 100, 2);
  };
  Table table({{"figure"}, {"value"}});
  table.Add({"proposal", r.retire() ? "retire" : "repair"});
  table.Add({"repairs", absl::StrCat(r.repair_count())});
  table.Add({"failures of its own", absl::StrCat(r.failure_count())});
  table.Add({"spent on repairs", money(r.spent_cost_minor())});
  table.Add({"of that within a year", money(r.spent_last_year_cost_minor())});
  table.Add({"age in days", absl::StrCat(r.age_days())});
  table.Add({"run hours", Rounded(r.run_hours(), 1)});
  table.Add({"failures per 1000 h", Rounded(r.failures_per_1000_hours(), 2)});
  table.Add({"its model's", Rounded(r.model_failures_per_1000_hours(), 2)});
  table.Add({"turns", absl::StrCat(r.turn_count())});
  table.Add({"turns to come", Rounded(r.remaining_turns(), 1)});
  table.Add({"cost a turn, repaired", money(r.repaired_turn_cost_minor())});
  table.Add({"cost a turn, new", money(r.new_turn_cost_minor())});
  table.Add({"a new one costs", r.replacement_cost_minor() == 0
                                    ? "not in the settings"
                                    : money(r.replacement_cost_minor())});
  std::string below;
  for (const std::string& reason : r.reasons()) {
    absl::StrAppend(&below, "because ", Printable(reason), "\n");
  }
  absl::StrAppend(&below, "This is ", Printable(r.note()), ".\n");
  return ShowTable(session, r, table, "", below);
}

absl::Status Spares(Session& session, const Line& line) {
  if (absl::Status now = OnlyNow(session); !now.ok()) return now;
  Values values(session);
  v1::ReportSparesRequest request;
  request.set_position(line.Arg("POSITION"));
  IfGiven(values.Whole("--window-days"),
          [&](int64_t v) { request.set_window_days(static_cast<int32_t>(v)); });
  if (!values.status().ok()) return values.status();
  v1::ReportSparesResponse response;
  const absl::Status asked = session.Ask(&Bench::ReportSpares, request, &response);
  if (!asked.ok()) return asked;
  return ShowTable(session, response, SpareTable(response), "no position answers that",
                   "Keep so many on order and on the shelf together (Poisson demand over the lead "
                   "time).\n");
}

void AddArrivalAnswers(Catalog* catalog) {
  constexpr auto kGroup = Group::kBench;
  const Positional unit{"UNIT", "the unit's tag"};
  const Flag branch{"--branch", "BRANCH", "only this branch"};
  std::vector<Flag> seen = ArrivalFlags();
  seen.push_back({"--at", "TIME", "when it is seen; default now"});
  catalog->push_back({"compare",
                      kGroup,
                      Kind::kReads,
                      "compare a unit on the dock with the records, before it is received",
                      {unit, {"PLACE", "where it stands, usually a dock"}},
                      seen,
                      "ferrule compare K-0417 north-dock --serial 77123 --part pendant=PEN-88 "
                      "--accessory pendant",
                      Compare});
  catalog->push_back({"strays",
                      kGroup,
                      Kind::kReads,
                      "list what came in that should not be here, and what may explain it",
                      {},
                      {branch},
                      "ferrule strays --branch north",
                      Strays});
  catalog->push_back({"missing-parts",
                      kGroup,
                      Kind::kReads,
                      "list what is missing from units, and since which set-out",
                      {{"UNIT", "only this unit", Arity::kOptional}},
                      {branch},
                      "ferrule missing-parts K-0417",
                      MissingParts});
  catalog->push_back({"cleanings",
                      kGroup,
                      Kind::kReads,
                      "list cleanings with the wet time kept beside the label's contact time",
                      {{"UNIT", "only this unit", Arity::kOptional}},
                      {{"--product", "PRODUCT", "only this product"},
                       {"--lot", "LOT", "only this lot of it"},
                       {"--from", "TIME", "from this time on"}},
                      "ferrule cleanings K-0417",
                      Cleanings});
}

void AddInspectionAnswers(Catalog* catalog) {
  constexpr auto kGroup = Group::kBench;
  const Positional unit{"UNIT", "the unit's tag"};
  const Flag branch{"--branch", "BRANCH", "only this branch"};
  const Flag model{"--model", "MODEL", "only this model"};
  catalog->push_back({"why-failed",
                      kGroup,
                      Kind::kReads,
                      "say why a unit failed its inspection, and whether it failed so before",
                      {unit},
                      {{"--days", "N", "days within which it is a repeat; default the settings'"}},
                      "ferrule why-failed K-0417",
                      WhyFailed});
  catalog->push_back({"trend",
                      kGroup,
                      Kind::kReads,
                      "show how each reading of a unit went",
                      {unit},
                      {},
                      "ferrule trend K-0417",
                      ShowTrend});
  catalog->push_back({"drift",
                      kGroup,
                      Kind::kReads,
                      "list readings that still pass and leave their habit",
                      {},
                      {branch, model, {"--all", "", "every reading, not only those"}},
                      "ferrule drift --branch north",
                      Drift});
  catalog->push_back({"doubts",
                      kGroup,
                      Kind::kReads,
                      "list results in doubt, by where those units are now",
                      {},
                      {{"--tester", "TESTER", "only passes by this test instrument"},
                       {"--from", "TIME", "as if it were in doubt from then"},
                       {"--to", "TIME", "until then"}},
                      "ferrule doubts --tester T-3 --from 2026-03-02 --to 2026-03-23",
                      Doubts});
}

void AddServiceAnswers(Catalog* catalog) {
  constexpr auto kGroup = Group::kBench;
  const Positional unit{"UNIT", "the unit's tag"};
  const Flag branch{"--branch", "BRANCH", "only this branch"};
  const Flag model{"--model", "MODEL", "only this model"};
  const Flag from{"--from", "TIME", "from this time on"};
  catalog->push_back({"bench",
                      kGroup,
                      Kind::kReads,
                      "list what to do next, so that nothing promised is missed",
                      {},
                      {branch, {"--limit", "N", "at most this many rows"}},
                      "ferrule bench --branch north",
                      BenchList});
  catalog->push_back({"service-due",
                      kGroup,
                      Kind::kReads,
                      "list planned service: overdue, coming due in a rental, put off",
                      {},
                      {branch, {"--through", "DAY", "looks ahead to this day; default 30 days"}},
                      "ferrule service-due --branch north",
                      ServiceDue});
  catalog->push_back({"run-hours",
                      kGroup,
                      Kind::kReads,
                      "show the true run hours of a unit, segment by segment",
                      {unit},
                      {},
                      "ferrule run-hours K-0417",
                      RunHours});
  catalog->push_back({"retire",
                      kGroup,
                      Kind::kReads,
                      "weigh the repair of a unit against its retirement",
                      {unit},
                      {{"--repair-cost", "AMOUNT", "cost of the repair in question, 1234.56"}},
                      "ferrule retire K-0417 --repair-cost 480",
                      Retire});
  catalog->push_back({"failing",
                      kGroup,
                      Kind::kReads,
                      "list units that fail more often than chance allows",
                      {},
                      {model, from, {"--all", "", "every unit, not only those"}},
                      "ferrule failing --model knee-a",
                      Failing});
  catalog->push_back({"reliability",
                      kGroup,
                      Kind::kReads,
                      "give hours between failures with their bounds, by model",
                      {},
                      {model, from, {"--confidence", "SHARE", "of the bounds; default 0.9"}},
                      "ferrule reliability --model knee-a",
                      Reliability});
  catalog->push_back({"spares",
                      kGroup,
                      Kind::kReads,
                      "say how many spares of each position to keep",
                      {{"POSITION", "only this position", Arity::kOptional}},
                      {{"--window-days", "N", "count demand over so many days; default 365"}},
                      "ferrule spares pendant",
                      Spares});
}

}  // namespace

void AddBenchAnswers(Catalog* catalog) {
  AddArrivalAnswers(catalog);
  AddInspectionAnswers(catalog);
  AddServiceAnswers(catalog);
}

}  // namespace ferrule::cli
