// Papers to print, the day's agenda, and what the home reports: set-up, ticket, calls.
#include <fstream>
#include <utility>

#include "absl/strings/str_cat.h"
#include "cli/catalog.h"
#include "cli/render_words.h"
#include "cli/report.h"
#include "cli/values.h"
#include "core/fact/words.h"
#include "core/time/civil.h"
#include "ferrule/v1/papers_service.grpc.pb.h"

namespace ferrule::cli {
namespace {

using Stub = v1::PapersService::StubInterface;

const Positional kOrder{"ORDER", "the order's number"};

std::string DayOrNothing(const google::type::Date& date) {
  return time::IsValid(date) ? time::FormatDay(time::ToDay(date)) : "";
}

absl::Status WriteOut(const std::string& path, const std::string& html) {
  std::ofstream file(path, std::ios::binary | std::ios::trunc);
  file << html;
  file.close();
  if (file) return absl::OkStatus();
  return absl::UnavailableError(
      absl::StrCat("cannot write ", path, ": choose a folder that is there and may be written to"));
}

// Gives a paper: to a file, or as it is on standard output.
absl::Status Print(Session& session, const v1::GetPaperRequest& request) {
  v1::GetPaperResponse response;
  const absl::Status asked = session.Ask(&Stub::GetPaper, request, &response);
  if (!asked.ok()) return asked;
  for (const std::string& missing : response.missing()) session.Remark("missing: " + missing);
  const std::optional<std::string> path = session.line().Get("--out");
  if (!path) {
    session.Show(response, Table(std::vector<Table::Column>{}), response.html());
    return absl::OkStatus();
  }
  if (absl::Status written = WriteOut(*path, response.html()); !written.ok()) return written;
  session.Show(response, Table(std::vector<Table::Column>{}),
               absl::StrCat("wrote ", *path, ", ", response.title(),
                            "; open it in a browser to print it or to save it as PDF\n"));
  return absl::OkStatus();
}

absl::Status PrintOrderPaper(Session& session, v1::PaperKind kind) {
  v1::GetPaperRequest request;
  request.set_kind(kind);
  request.set_name("orders/" + session.line().Arg("ORDER"));
  request.set_unit(session.line().Get("--unit").value_or(""));
  Values values(session);
  IfGiven(values.Day("--day"), [&](const google::type::Date& v) { *request.mutable_date() = v; });
  if (!values.status().ok()) return values.status();
  return Print(session, request);
}

absl::Status PrintDelivery(Session& session, const Line&) {
  return PrintOrderPaper(session, v1::PAPER_KIND_DELIVERY_TICKET);
}
absl::Status PrintSetUp(Session& session, const Line&) {
  return PrintOrderPaper(session, v1::PAPER_KIND_SET_UP_SHEET);
}
absl::Status PrintPickup(Session& session, const Line&) {
  return PrintOrderPaper(session, v1::PAPER_KIND_PICKUP_TICKET);
}

absl::Status PrintList(Session& session, v1::PaperKind kind) {
  v1::GetPaperRequest request;
  request.set_kind(kind);
  request.set_branch(session.line().GetOrEnv("--branch", "FERRULE_BRANCH").value_or(""));
  Values values(session);
  IfGiven(values.Day("--day"), [&](const google::type::Date& v) { *request.mutable_date() = v; });
  if (!values.status().ok()) return values.status();
  return Print(session, request);
}

absl::Status PrintCalls(Session& session, const Line&) {
  return PrintList(session, v1::PAPER_KIND_CALL_LIST);
}
absl::Status PrintAgenda(Session& session, const Line&) {
  return PrintList(session, v1::PAPER_KIND_AGENDA);
}

Table AgendaTable(const v1::GetAgendaResponse& agenda, bool calls_only) {
  Table table({{"what"}, {"order"}, {"unit"}, {"since"}, {"to_do"}, {"missing"}, {"precautions"}});
  for (const v1::AgendaItem& item : agenda.items()) {
    if (calls_only && item.kind() != v1::AGENDA_KIND_CALL) continue;
    std::string missing;
    for (const std::string& m : item.missing()) {
      absl::StrAppend(&missing, missing.empty() ? "" : "; ", m);
    }
    table.Add({Word(item.kind()), item.order(), item.unit(), DayOrNothing(item.since_date()),
               item.text(), missing, fact::PrecautionList(item.precautions())});
  }
  return table;
}

absl::Status ShowAgenda(Session& session, bool calls_only) {
  v1::GetAgendaRequest request;
  request.set_branch(session.line().GetOrEnv("--branch", "FERRULE_BRANCH").value_or(""));
  Values values(session);
  IfGiven(values.Day("--day"), [&](const google::type::Date& v) { *request.mutable_date() = v; });
  if (!values.status().ok()) return values.status();
  const auto known = session.KnownAt();
  if (!known.ok()) return known.status();
  if (known->has_value()) time::SetMicros(**known, request.mutable_known_time());
  v1::GetAgendaResponse response;
  const absl::Status asked = session.Ask(&Stub::GetAgenda, request, &response);
  if (!asked.ok()) return asked;
  const auto why = session.Explanation();
  if (!why.ok()) return why.status();
  const Table table = AgendaTable(response, calls_only);
  std::string text = table.empty() ? absl::StrCat("nothing to do at ", response.branch(), " on ",
                                                  DayOrNothing(response.date()), "\n")
                                   : table.Text();
  for (const std::string& line : response.not_rung())
    absl::StrAppend(&text, "not rung: ", line, "\n");
  session.Show(response, table, text + *why);
  return absl::OkStatus();
}

absl::Status Agenda(Session& session, const Line&) { return ShowAgenda(session, false); }
absl::Status Calls(Session& session, const Line&) { return ShowAgenda(session, true); }

absl::Status Proof(Session& session, const Line& line) {
  v1::AssessDeliveryRequest request;
  request.set_name("orders/" + line.Arg("ORDER"));
  const auto known = session.KnownAt();
  if (!known.ok()) return known.status();
  if (known->has_value()) time::SetMicros(**known, request.mutable_known_time());
  v1::AssessDeliveryResponse response;
  const absl::Status asked = session.Ask(&Stub::AssessDelivery, request, &response);
  if (!asked.ok()) return asked;
  const auto why = session.Explanation();
  if (!why.ok()) return why.status();
  Table table({{"handed_over_date"}, {"signed_date"}, {"service_date"}, {"proved"}, {"faults"}});
  std::string faults;
  for (const std::string& word : response.words()) {
    absl::StrAppend(&faults, faults.empty() ? "" : "; ", word);
  }
  table.Add({DayOrNothing(response.handed_over_date()), DayOrNothing(response.signed_date()),
             DayOrNothing(response.service_date()), response.proved() ? "yes" : "no", faults});
  std::string text = absl::StrCat("the delivery of ", line.Arg("ORDER"),
                                  response.proved() ? " is proved\n" : " is not proved\n");
  for (const std::string& word : response.words()) absl::StrAppend(&text, "  - ", word, "\n");
  if (time::IsValid(response.service_date())) {
    absl::StrAppend(&text, "handed over ", DayOrNothing(response.handed_over_date()),
                    response.has_signed_date()
                        ? absl::StrCat(", signed ", DayOrNothing(response.signed_date()))
                        : "",
                    ", day of service ", DayOrNothing(response.service_date()), "\n");
  }
  session.Show(response, table, text + *why);
  return absl::OkStatus();
}

absl::Status SetUp(Session& session, const Line& line) {
  absl::StatusOr<Report> report = Report::Begin(session);
  if (!report.ok()) return report.status();
  Values values(session);
  v1::SetUpDone& fact = *report->Add()->mutable_set_up_done();
  fact.set_order(line.Arg("ORDER"));
  fact.set_unit(line.Arg("UNIT"));
  IfGiven(values.Whole("--thigh"), [&](int64_t v) { fact.set_thigh_set_mm(static_cast<int>(v)); });
  IfGiven(values.Whole("--shank"), [&](int64_t v) { fact.set_shank_set_mm(static_cast<int>(v)); });
  IfGiven(values.Whole("--cycles"),
          [&](int64_t v) { fact.set_tried_cycle_count(static_cast<int>(v)); });
  fact.set_skin(line.Get("--skin").value_or(""));
  fact.set_foot(line.Get("--foot").value_or(""));
  fact.set_taught_back(line.Has("--taught-back"));
  fact.set_teaching_left(line.Get("--left-to-teach").value_or(""));
  fact.set_guide(line.Get("--guide").value_or(""));
  fact.set_guide_version(line.Get("--guide-version").value_or(""));
  fact.set_guide_language(line.Get("--language").value_or(""));
  if (!values.status().ok()) return values.status();
  return report->Send("");
}

absl::Status TicketBack(Session& session, const Line& line) {
  absl::StatusOr<Report> report = Report::Begin(session);
  if (!report.ok()) return report.status();
  Values values(session);
  v1::TicketReturned& fact = *report->Add()->mutable_ticket_returned();
  fact.set_order(line.Arg("ORDER"));
  IfGiven(values.Day("--signed"),
          [&](const google::type::Date& v) { *fact.mutable_signed_date() = v; });
  fact.set_signed_by(line.Get("--signed-by").value_or(""));
  fact.set_signer_is_of_depot(line.Has("--signer-of-depot"));
  fact.set_items_described(!line.Has("--no-items"));
  fact.set_legible(!line.Has("--not-legible"));
  fact.set_document(line.Get("--document").value_or(""));
  if (!values.status().ok()) return values.status();
  return report->Send("");
}

absl::Status Rang(Session& session, const Line& line) {
  absl::StatusOr<Report> report = Report::Begin(session);
  if (!report.ok()) return report.status();
  Values values(session);
  v1::CallMade& fact = *report->Add()->mutable_call_made();
  fact.set_order(line.Arg("ORDER"));
  fact.set_kind(values.OneOfIn<v1::CallKind>("WHAT-FOR"));
  fact.set_outcome(values.OneOfIn<v1::CallOutcome>("OUTCOME"));
  IfGiven(values.Day("--again"),
          [&](const google::type::Date& v) { *fact.mutable_again_date() = v; });
  if (!values.status().ok()) return values.status();
  return report->Send("");
}

void AddPrinting(Catalog* catalog) {
  constexpr auto kGroup = Group::kField;
  const std::vector<Flag> order_flags = {
      {"--out", "FILE", "write it there; default standard output"},
      {"--unit", "UNIT", "the unit that will go out; default the order's"},
      {"--day", "DAY", "day for which it is printed; default today"}};
  const std::vector<Flag> list_flags = {order_flags[0], order_flags[2]};
  catalog->push_back({"print delivery",
                      kGroup,
                      Kind::kReads,
                      "print the delivery ticket of an order",
                      {kOrder},
                      order_flags,
                      "ferrule print delivery R-2001 --out ticket.html",
                      PrintDelivery});
  catalog->push_back({"print set-up",
                      kGroup,
                      Kind::kReads,
                      "print the set-up sheet of an order",
                      {kOrder},
                      order_flags,
                      "ferrule print set-up R-2001 --out set-up.html",
                      PrintSetUp});
  catalog->push_back({"print pick-up",
                      kGroup,
                      Kind::kReads,
                      "print the pick-up ticket of an order",
                      {kOrder},
                      order_flags,
                      "ferrule print pick-up R-2001 --out pick-up.html",
                      PrintPickup});
  catalog->push_back({"print calls",
                      kGroup,
                      Kind::kReads,
                      "print a branch's call list",
                      {},
                      list_flags,
                      "ferrule print calls --branch north --out calls.html",
                      PrintCalls});
  catalog->push_back({"print agenda",
                      kGroup,
                      Kind::kReads,
                      "print a branch's agenda",
                      {},
                      list_flags,
                      "ferrule print agenda --branch north --out agenda.html",
                      PrintAgenda});
}

}  // namespace

void AddPaperCommands(Catalog* catalog) {
  constexpr auto kGroup = Group::kField;
  const Positional unit{"UNIT", "the unit's tag, as scanned"};
  catalog->push_back(
      {"set-up",
       kGroup,
       Kind::kRecords,
       "report a set-up and what was taught",
       {kOrder, unit},
       {{"--thigh", "MM", "thigh length set, millimetres"},
        {"--shank", "MM", "shank length set, millimetres"},
        {"--cycles", "N", "cycles tried"},
        {"--skin", "TEXT", "skin as seen"},
        {"--foot", "TEXT", "how the foot points, if not straight"},
        {"--taught-back", "", "the patient or a helper showed what was taught"},
        {"--left-to-teach", "TEXT", "what is still to be taught"},
        {"--guide", "ID", "the written guide that was left"},
        {"--guide-version", "TEXT", "its version"},
        {"--language", "TAG", "its language, for instance es"}},
       "ferrule set-up R-2001 K-0417 --thigh 430 --shank 400 --cycles 2 --skin intact "
       "--taught-back",
       SetUp});
  catalog->push_back({"ticket",
                      kGroup,
                      Kind::kRecords,
                      "report that a delivery ticket came back",
                      {kOrder},
                      {{"--signed", "DAY", "the day beside the signature"},
                       {"--signed-by", "WORD", "relationship of the signer: patient, spouse, ..."},
                       {"--signer-of-depot", "", "the signer works for the depot"},
                       {"--no-items", "", "the items are not described on it"},
                       {"--not-legible", "", "it cannot be read"},
                       {"--document", "ID", "where the paper is kept"}},
                      "ferrule ticket R-2001 --signed 2026-03-05 --signed-by spouse",
                      TicketBack});
  catalog->push_back(
      {"rang",
       kGroup,
       Kind::kRecords,
       "report a call about an order",
       {kOrder,
        {"WHAT-FOR", "follow-up, before-due, cover-ends, confirm-surgery, pickup or other"},
        {"OUTCOME", "reached, not-reached or later"}},
       {{"--again", "DAY", "day on which to ring again"}},
       "ferrule rang R-2001 before-due reached",
       Rang});
  catalog->push_back({"delivered",
                      Group::kLook,
                      Kind::kReads,
                      "say whether a delivery is proved, and what is missing",
                      {kOrder},
                      {},
                      "ferrule delivered R-2001",
                      Proof});
  const std::vector<Flag> day = {{"--day", "DAY", "that day; default today"}};
  catalog->push_back({"agenda",
                      Group::kLook,
                      Kind::kReads,
                      "list what a branch has to do on a day",
                      {},
                      day,
                      "ferrule agenda --branch north",
                      Agenda});
  catalog->push_back({"calls",
                      Group::kLook,
                      Kind::kReads,
                      "list whom a branch has to ring",
                      {},
                      day,
                      "ferrule calls --branch north --day tomorrow",
                      Calls});
  AddPrinting(catalog);
}

}  // namespace ferrule::cli
