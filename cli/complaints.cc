// Complaints and breakdowns: taken, answered, closed; the log with its clock.
#include <string>

#include "absl/strings/str_cat.h"
#include "cli/answer.h"
#include "cli/catalog.h"
#include "cli/look_up.h"
#include "cli/pages.h"
#include "cli/render_words.h"
#include "cli/report.h"
#include "cli/values.h"
#include "core/fact/words.h"
#include "core/time/civil.h"
#include "ferrule/v1/trace_service.grpc.pb.h"

namespace ferrule::cli {
namespace {

using Trace = v1::TraceService::StubInterface;

const Positional kComplaint{"COMPLAINT", "the depot's number for it"};
const Positional kOrder{"ORDER", "the order's number"};

absl::Status Take(Session& session, const Line& line) {
  absl::StatusOr<Report> report = Report::Begin(session);
  if (!report.ok()) return report.status();
  Values values(session);
  v1::ComplaintReceived& fact = *report->Add()->mutable_complaint_received();
  fact.set_complaint(line.Arg("COMPLAINT"));
  fact.set_kind(values.OneOfIn<v1::ComplaintKind>("KIND"));
  fact.set_words(line.Arg("WORDS"));
  fact.set_branch(line.Get("--branch").value_or(""));
  fact.set_source(
      values.OneOf<v1::ComplaintSource>("--from-whom").value_or(v1::COMPLAINT_SOURCE_UNSPECIFIED));
  fact.set_harm(values.OneOf<v1::Harm>("--harm").value_or(v1::HARM_UNSPECIFIED));
  if (const auto about = line.Get("--about")) {
    const absl::StatusOr<std::string> name = FullName(session, *about);
    if (!name.ok()) return name.status();
    fact.set_subject(*name);
  }
  if (!values.status().ok()) return values.status();
  const bool hurt = fact.harm() == v1::HARM_DONE || fact.harm() == v1::HARM_POSSIBLE;
  return report->Send(
      "", hurt ? "Caution: somebody was hurt or could have been. See that the unit is blocked "
                 "(ferrule hold UNIT incident ...) and ask who has to be told: the maker, the "
                 "prescriber, the authority. The law of the place rules."
               : "");
}

absl::Status Answer(Session& session, const Line& line) {
  absl::StatusOr<Report> report = Report::Begin(session);
  if (!report.ok()) return report.status();
  v1::ComplaintAnswered& fact = *report->Add()->mutable_complaint_answered();
  fact.set_complaint(line.Arg("COMPLAINT"));
  fact.set_how(line.Get("--how").value_or(""));
  fact.set_words(line.Get("--words").value_or(""));
  return report->Send();
}

absl::Status Close(Session& session, const Line& line) {
  absl::StatusOr<Report> report = Report::Begin(session);
  if (!report.ok()) return report.status();
  Values values(session);
  v1::ComplaintClosed& fact = *report->Add()->mutable_complaint_closed();
  fact.set_complaint(line.Arg("COMPLAINT"));
  fact.set_outcome(values.OneOfIn<v1::ComplaintOutcome>("OUTCOME"));
  fact.set_done(line.Arg("DONE"));
  fact.set_investigator(line.Get("--by-whom").value_or(""));
  if (!values.status().ok()) return values.status();
  return report->Send();
}

// "1.5 d" of a clock; hours below two days.
std::string Waited(int64_t seconds) {
  constexpr int64_t kTwoDays = 172'800;
  if (seconds < kTwoDays) return absl::StrCat(Hours(seconds), " h");
  return absl::StrCat(seconds / 86'400, " d ", (seconds % 86'400) / 3'600, " h");
}

std::string FiguresWords(const std::string& of, const v1::ComplaintTotals& totals) {
  std::string text =
      absl::StrCat(of, ": ", totals.received_count(), " received, ", totals.open_count(), " open, ",
                   totals.unanswered_count(), " without an answer, ", totals.late_count(),
                   " late, ", totals.harm_count(), " with harm done or possible");
  if (totals.has_median_answer_s()) {
    absl::StrAppend(&text, "; median to the first answer ", Waited(totals.median_answer_s()));
  }
  return text + ".\n";
}

absl::Status List(Session& session, const Line& line) {
  if (absl::Status now = OnlyFromNow(session); !now.ok()) return now;
  Values values(session);
  v1::ListComplaintsRequest request;
  request.set_branch(line.Get("--branch").value_or(""));
  request.set_kind(
      values.OneOf<v1::ComplaintKind>("--kind").value_or(v1::COMPLAINT_KIND_UNSPECIFIED));
  request.set_open_only(line.Has("--open"));
  request.set_late_days(static_cast<int32_t>(values.DayCount("--late").value_or(0)));
  if (const auto us = values.Instant("--from")) time::SetMicros(*us, request.mutable_from_time());
  if (const auto us = values.Instant("--to")) time::SetMicros(*us, request.mutable_to_time());
  if (!values.status().ok()) return values.status();
  if (const auto about = line.Get("--about")) {
    const absl::StatusOr<std::string> name = FullName(session, *about);
    if (!name.ok()) return name.status();
    request.set_subject(*name);
  }
  v1::ListComplaintsResponse all;
  const absl::Status asked = AskPages(session, &Trace::ListComplaints, request, &all,
                                      [&](v1::ListComplaintsResponse& page) {
                                        if (&page != &all) {
                                          *all.mutable_totals() = page.totals();
                                          *all.mutable_by_kind() = page.by_kind();
                                          *all.mutable_by_branch() = page.by_branch();
                                        }
                                        return page.mutable_complaints();
                                      });
  if (!asked.ok()) return asked;
  Table table({{"complaint"},
               {"branch"},
               {"kind"},
               {"about"},
               {"from"},
               {"harm"},
               {"received"},
               {"answered"},
               {"waited", true},
               {"late"},
               {"closed"},
               {"outcome"},
               {"words"}});
  for (const v1::ComplaintRow& row : all.complaints()) {
    const v1::ComplaintState& complaint = row.complaint();
    const absl::TimeZone zone = session.zones().OfBranch(complaint.branch());
    table.Add(
        {complaint.complaint(), complaint.branch(),
         std::string(fact::ComplaintKindWords(complaint.kind())), complaint.subject(),
         std::string(fact::ComplaintSourceWords(complaint.source())),
         std::string(fact::HarmWords(complaint.harm())), StampWords(complaint.received(), zone),
         Local(complaint.answered().time(), zone), Waited(row.waited_s()), row.late() ? "late" : "",
         Local(complaint.closed().time(), zone),
         complaint.has_closed() ? std::string(fact::ComplaintOutcomeWords(complaint.outcome()))
                                : "",
         complaint.words()});
  }
  std::string below = FiguresWords("all", all.totals());
  for (const v1::ComplaintTotals& kind : all.by_kind()) {
    below += FiguresWords(std::string(fact::ComplaintKindWords(kind.kind())), kind);
  }
  if (all.by_branch_size() > 1) {
    for (const v1::ComplaintTotals& branch : all.by_branch()) {
      below += FiguresWords(branch.branch(), branch);
    }
  }
  return ShowAnswer(session, all, table, "no complaint on the records fits what was asked", below);
}

absl::Status BrokeDown(Session& session, const Line& line) {
  absl::StatusOr<Report> report = Report::Begin(session);
  if (!report.ok()) return report.status();
  v1::BreakdownReported& fact = *report->Add()->mutable_breakdown_reported();
  fact.set_order(line.Arg("ORDER"));
  fact.set_words(line.Arg("WORDS"));
  fact.set_unit(line.Get("--unit").value_or(""));
  return report->Send("",
                      "Caution: until it is looked at, the device is not to be used. Ask whether "
                      "the skin and the limb are well; the prescriber's order and the maker's "
                      "instructions rule.");
}

absl::Status WorksAgain(Session& session, const Line& line) {
  absl::StatusOr<Report> report = Report::Begin(session);
  if (!report.ok()) return report.status();
  Values values(session);
  v1::BreakdownSettled& fact = *report->Add()->mutable_breakdown_settled();
  fact.set_order(line.Arg("ORDER"));
  fact.set_cure(values.OneOfIn<v1::BreakdownCure>("HOW"));
  if (!values.status().ok()) return values.status();
  return report->Send();
}

void AddBreakdowns(Catalog* catalog) {
  catalog->push_back({"breakdown",
                      Group::kField,
                      Kind::kRecords,
                      "take a call that a device in the home does not work",
                      {kOrder, {"WORDS", "what it does or does not do; nothing about the patient"}},
                      {{"--unit", "UNIT", "the unit, as its label was read out"}},
                      "ferrule breakdown R-2001 'stops after a minute' --unit K-0417",
                      BrokeDown});
  catalog->push_back({"works-again",
                      Group::kField,
                      Kind::kRecords,
                      "say that a device in the home works again; an exchange says so by itself",
                      {kOrder, {"HOW", "by-telephone, in-the-home, by-itself or not-needed"}},
                      {},
                      "ferrule works-again R-2001 by-telephone",
                      WorksAgain});
}

}  // namespace

void AddComplaintCommands(Catalog* catalog) {
  constexpr auto kGroup = Group::kTrace;
  AddBreakdowns(catalog);
  catalog->push_back(
      {"complaint",
       kGroup,
       Kind::kRecords,
       "take a complaint",
       {kComplaint,
        {"KIND", "device, cleanliness, visit, teaching, conduct, billing, privacy or other"},
        {"WORDS", "what is complained of; nothing about the patient"}},
       {{"--branch", "BRANCH", "the branch that looks into it"},
        {"--from-whom", "WHO", "patient, referrer, payer, hospital, staff or other"},
        {"--harm", "HARM", "none, possible or done"},
        {"--about", "ITEM", "unit, order, part or lot, by id or full name"}},
       "ferrule complaint B-31 device 'hinge pinched' --branch north --from-whom patient --harm "
       "possible --about K-0417",
       Take});
  catalog->push_back({"complaint-answer",
                      kGroup,
                      Kind::kRecords,
                      "say that whoever complained got an answer",
                      {kComplaint},
                      {{"--how", "TEXT", "for instance telephone or letter"},
                       {"--words", "TEXT", "what was said; nothing about the patient"}},
                      "ferrule complaint-answer B-31 --how telephone",
                      Answer});
  catalog->push_back({"complaint-close",
                      kGroup,
                      Kind::kRecords,
                      "close a complaint",
                      {kComplaint,
                       {"OUTCOME", "upheld, partly-upheld, not-upheld or withdrawn"},
                       {"DONE", "what was done about it"}},
                      {{"--by-whom", "NAME", "who looked into it"}},
                      "ferrule complaint-close B-31 upheld 'hinge cover fitted'",
                      Close});
  catalog->push_back({"complaints",
                      kGroup,
                      Kind::kReads,
                      "list complaints with their clocks: open, late, median to the first answer",
                      {},
                      {{"--open", "", "only those that are not closed"},
                       {"--branch", "BRANCH", "of one branch"},
                       {"--kind", "KIND", "of one kind"},
                       {"--about", "ITEM", "about one unit, order, part or lot"},
                       {"--from", "TIME", "received from here on"},
                       {"--to", "TIME", "received before this"},
                       {"--late", "DAYS", "days after which an answer is late; default 5"},
                       kLimitFlag},
                      "ferrule complaints --open",
                      List});
}

}  // namespace ferrule::cli
