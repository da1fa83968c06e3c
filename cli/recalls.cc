// Recalls: opened with what they cover, blocked everywhere at once, worked off, closed.
#include <algorithm>
#include <vector>

#include "absl/strings/match.h"
#include "absl/strings/str_cat.h"
#include "absl/strings/str_format.h"
#include "cli/answer.h"
#include "cli/catalog.h"
#include "cli/look_up.h"
#include "cli/pages.h"
#include "cli/render_words.h"
#include "cli/report.h"
#include "cli/values.h"
#include "core/fact/counted.h"
#include "core/fact/words.h"
#include "core/time/civil.h"
#include "ferrule/v1/trace_service.grpc.pb.h"

namespace ferrule::cli {
namespace {

using Trace = v1::TraceService::StubInterface;

const Positional kRecall{"RECALL", "the depot's number for it"};
constexpr std::string_view kCaution =
    "Caution: the notice and the maker's instructions rule; nothing here judges whether a unit is "
    "safe.";

std::vector<Flag> ScopeFlags() {
  return {{"--model", "MODEL", "every unit of this model", true},
          {"--serials", "FIRST..LAST", "a range of serial numbers, both included", true},
          {"--part", "PART", "a part, wherever it ever was", true},
          {"--part-lot", "LOT", "a lot of parts, wherever they ever were", true},
          {"--lot", "LOT", "a lot of soft goods", true},
          {"--unit", "UNIT", "a unit by its tag", true}};
}

void ReadScope(const Line& line, Values& values, v1::RecallScope* scope) {
  for (const std::string& v : line.All("--model")) scope->add_models(v);
  for (const std::string& v : line.All("--part")) scope->add_parts(v);
  for (const std::string& v : line.All("--part-lot")) scope->add_part_lots(v);
  for (const std::string& v : line.All("--lot")) scope->add_lots(v);
  for (const std::string& v : line.All("--unit")) scope->add_units(v);
  for (const std::string& v : line.All("--serials")) {
    const size_t dots = v.find("..");
    if (dots == std::string::npos || dots == 0 || dots + 2 == v.size()) {
      return values.Fail("--serials", absl::InvalidArgumentError(
                                          absl::StrCat("'", v, "' is no range; write A-9..A-120")));
    }
    v1::SerialRange* range = scope->add_serials();
    range->set_first(v.substr(0, dots));
    range->set_last(v.substr(dots + 2));
  }
}

absl::StatusOr<v1::ListRecallItemsResponse> AskItems(Session& session,
                                                     v1::ListRecallItemsRequest request) {
  v1::ListRecallItemsResponse all;
  constexpr int kPage = 1000;
  request.set_page_size(kPage);
  while (true) {
    v1::ListRecallItemsResponse page;
    const absl::Status asked = session.Ask(&Trace::ListRecallItems, request, &page);
    if (!asked.ok()) return asked;
    all.mutable_items()->MergeFrom(page.items());
    *all.mutable_totals() = page.totals();
    *all.mutable_recall() = page.recall();
    if (page.next_page_token().empty()) return all;
    request.set_page_token(page.next_page_token());
  }
}

absl::Status Open(Session& session, const Line& line) {
  absl::StatusOr<Report> report = Report::Begin(session);
  if (!report.ok()) return report.status();
  Values values(session);
  v1::RecallOpened& fact = *report->Add()->mutable_recall_opened();
  fact.set_recall(line.Arg("RECALL"));
  fact.set_notice(line.Arg("NOTICE"));
  ReadScope(line, values, fact.mutable_scope());
  fact.set_instruction(line.Get("--instruction").value_or(""));
  IfGiven(line.Get("--source"), [&](const std::string& v) { fact.set_source(v); });
  IfGiven(line.Get("--hazard"), [&](const std::string& v) { fact.set_hazard(v); });
  IfGiven(values.Day("--dated"),
          [&](const google::type::Date& v) { *fact.mutable_notice_date() = v; });
  fact.set_exercise(line.Has("--exercise"));
  if (!values.status().ok()) return values.status();
  return report->Send("", absl::StrCat("Next: ferrule recall-block ", fact.recall(),
                                       " blocks what it covers; ferrule recall ", fact.recall(),
                                       " lists it.\n", std::string(kCaution)));
}

// One hold for every unit that the recall covers and that is neither dealt with nor blocked.
absl::Status Block(Session& session, const Line& line) {
  absl::StatusOr<Report> report = Report::Begin(session);
  if (!report.ok()) return report.status();
  v1::ListRecallItemsRequest request;
  request.set_name("recalls/" + line.Arg("RECALL"));
  request.set_open_only(true);
  const auto items = AskItems(session, request);
  if (!items.ok()) return items.status();
  std::vector<std::string> units;
  int unknown = 0;
  for (const v1::RecallItem& item : items->items()) {
    if (!absl::StartsWith(item.subject(), "units/") || item.on_hold()) continue;
    if (item.holder() == "gone") continue;
    if (item.holder().empty()) {
      ++unknown;
    } else {
      units.push_back(BareId(item.subject()));
    }
  }
  v1::RecordBatchRequest batch;
  constexpr size_t kFactsAtOnce = 50;
  for (size_t i = 0; i < units.size(); i += kFactsAtOnce) {
    v1::Entry& entry = *batch.add_entries();
    entry = report->Blank(i / kFactsAtOnce);
    for (size_t k = i; k < std::min(units.size(), i + kFactsAtOnce); ++k) {
      v1::Fact& fact = *entry.add_facts();
      time::SetMicros(report->at_us(), fact.mutable_happened_time());
      v1::HoldPlaced& hold = *fact.mutable_hold_placed();
      hold.set_unit(units[k]);
      hold.set_kind(v1::HOLD_KIND_RECALL);
      hold.set_reason(absl::StrCat("recall ", line.Arg("RECALL"), ": ", items->recall().notice()));
      hold.set_reference(line.Arg("RECALL"));
    }
  }
  v1::RecordBatchResponse response;
  const bool check = line.Has("--check");
  if (!batch.entries().empty() && !check) {
    const absl::Status asked =
        session.Ask(&v1::LedgerService::StubInterface::RecordBatch, batch, &response);
    if (!asked.ok()) return asked;
  }
  for (const v1::RecordResult& result : response.results()) {
    if (result.has_failure()) {
      return absl::Status(static_cast<absl::StatusCode>(result.failure().code()),
                          result.failure().message());
    }
  }
  Table table({{"unit"}});
  for (const std::string& unit : units) table.Add({unit});
  std::string text =
      absl::StrCat(check ? "would block " : "blocked ",
                   fact::Counted(static_cast<int64_t>(units.size()), "unit", "units"),
                   " for recall ", line.Arg("RECALL"), "\n");
  if (unknown > 0) {
    absl::StrAppend(&text,
                    fact::Counted(unknown, "unit that it names is in no record: look for it\n",
                                  "units that it names are in no record: look for them\n"));
  }
  absl::StrAppend(&text, std::string(kCaution), "\n");
  session.Show(response, table, text);
  return absl::OkStatus();
}

absl::Status Note(Session& session, const Line& line) {
  absl::StatusOr<Report> report = Report::Begin(session);
  if (!report.ok()) return report.status();
  Values values(session);
  const auto name = FullName(session, line.Arg("ITEM"));
  if (!name.ok()) return name.status();
  v1::RecallOutcomeNoted& fact = *report->Add()->mutable_recall_outcome_noted();
  fact.set_recall(line.Arg("RECALL"));
  fact.set_subject(*name);
  fact.set_outcome(values.OneOfIn<v1::RecallOutcome>("OUTCOME"));
  IfGiven(line.Get("--contact"), [&](const std::string& v) { fact.set_contact(v); });
  IfGiven(line.Get("--evidence"), [&](const std::string& v) { fact.set_evidence(v); });
  if (!values.status().ok()) return values.status();
  return report->Send();
}

absl::Status Close(Session& session, const Line& line) {
  absl::StatusOr<Report> report = Report::Begin(session);
  if (!report.ok()) return report.status();
  v1::ListRecallItemsRequest request;
  request.set_name("recalls/" + line.Arg("RECALL"));
  request.set_page_size(1);
  v1::ListRecallItemsResponse items;
  const absl::Status asked = session.Ask(&Trace::ListRecallItems, request, &items);
  if (!asked.ok()) return asked;
  v1::RecallClosed& fact = *report->Add()->mutable_recall_closed();
  fact.set_recall(line.Arg("RECALL"));
  fact.set_open_item_count(
      static_cast<int32_t>(items.totals().item_count() - items.totals().done_count()));
  IfGiven(line.Get("--reason"), [&](const std::string& v) { fact.set_because(v); });
  return report->Send();
}

std::string TotalsWords(const v1::RecallTotals& totals) {
  std::string text = absl::StrCat(
      fact::Counted(totals.item_count(), "item", "items"), ": ", totals.done_count(),
      " dealt with (", absl::StrFormat("%.2f", totals.done_basis_points() / 100.0), " %), ",
      totals.contacted_count(), " contacted, ", totals.at_home_count(), " at home, ",
      totals.unaccounted_count(), " unaccounted for; unknown holders count.\n");
  if (totals.has_half_done_s()) {
    absl::StrAppend(&text, "Half was done after ", Hours(totals.half_done_s()), " h");
    if (totals.has_ninety_done_s()) {
      absl::StrAppend(&text, ", 90 % after ", Hours(totals.ninety_done_s()), " h");
    }
    if (totals.has_all_done_s()) {
      absl::StrAppend(&text, ", all after ", Hours(totals.all_done_s()), " h");
    }
    text += ".\n";
  }
  return text;
}

absl::Status ShowItems(Session& session, const v1::ListRecallItemsRequest& request) {
  const auto items = AskItems(session, request);
  if (!items.ok()) return items.status();
  const absl::TimeZone zone = session.zones().OfBranch("");
  Table table({{"item"},
               {"model"},
               {"serial"},
               {"basis"},
               {"holder"},
               {"since"},
               {"at_notice"},
               {"still_in"},
               {"on_hold"},
               {"outcome"},
               {"former_orders"},
               {"pieces", true}});
  for (const v1::RecallItem& item : items->items()) {
    table.Add({item.subject(), item.model(), item.serial(), item.basis(),
               item.holder().empty() ? "unknown" : item.holder(), Local(item.since_time(), zone),
               item.holder_at_notice(), item.still_in() ? "yes" : "no",
               item.on_hold() ? "yes" : "no",
               item.has_word() ? std::string(fact::RecallOutcomeWords(item.word().outcome())) : "",
               Joined(item.former_orders()),
               item.piece_count() == 0 ? "" : absl::StrCat(item.piece_count())});
  }
  std::string below = TotalsWords(items->totals());
  if (!items->recall().recall().empty()) {
    const v1::RecallState& recall = items->recall();
    absl::StrAppend(
        &below, "Recall ", recall.recall(), ": ", Printable(recall.notice()),
        recall.exercise() ? ", an exercise" : "", ", opened ", StampWords(recall.opened(), zone),
        recall.has_closed() ? absl::StrCat(", closed ", StampWords(recall.closed(), zone)) : "",
        ".\nAsked for: ", Printable(recall.instruction()), "\n");
  }
  absl::StrAppend(&below, std::string(kCaution), "\n");
  return ShowAnswer(session, *items, table, "nothing that is recorded is covered", below);
}

absl::Status Show(Session& session, const Line& line) {
  if (absl::Status now = OnlyFromNow(session); !now.ok()) return now;
  v1::ListRecallItemsRequest request;
  request.set_name("recalls/" + line.Arg("RECALL"));
  request.set_open_only(line.Has("--open"));
  return ShowItems(session, request);
}

absl::Status LookFor(Session& session, const Line& line) {
  if (absl::Status now = OnlyFromNow(session); !now.ok()) return now;
  v1::ListRecallItemsRequest request;
  Values values(session);
  ReadScope(line, values, request.mutable_scope());
  if (!values.status().ok()) return values.status();
  return ShowItems(session, request);
}

absl::Status Recalls(Session& session, const Line& line) {
  if (absl::Status now = OnlyFromNow(session); !now.ok()) return now;
  v1::ListRecallsRequest request;
  request.set_include_closed(line.Has("--all"));
  v1::ListRecallsResponse all;
  const absl::Status asked =
      AskPages(session, &Trace::ListRecalls, request, &all,
               [](v1::ListRecallsResponse& page) { return page.mutable_recalls(); });
  if (!asked.ok()) return asked;
  const absl::TimeZone zone = session.zones().OfBranch("");
  Table table({{"recall"}, {"notice"}, {"source"}, {"dated"}, {"opened"}, {"closed"}, {"kind"}});
  for (const v1::RecallState& recall : all.recalls()) {
    table.Add({recall.recall(), recall.notice(), recall.source(), Day(recall.notice_date()),
               StampWords(recall.opened(), zone), StampWords(recall.closed(), zone),
               recall.exercise() ? "exercise" : ""});
  }
  return ShowAnswer(session, all, table, "no recall is open");
}

}  // namespace

void AddRecallCommands(Catalog* catalog) {
  constexpr auto kGroup = Group::kTrace;
  std::vector<Flag> open = ScopeFlags();
  open.insert(open.end(), {{"--instruction", "TEXT", "what the notice asks for"},
                           {"--source", "NAME", "who gave it"},
                           {"--hazard", "TEXT", "the hazard, in the notice's words"},
                           {"--dated", "DAY", "day of the notice"},
                           {"--exercise", "", "it is an exercise"}});
  catalog->push_back({"recall-open",
                      kGroup,
                      Kind::kRecords,
                      "enter a recall or field notice with what it covers",
                      {kRecall, {"NOTICE", "the notice's own number or title"}},
                      open,
                      "ferrule recall-open N-7 'field notice 7' --part-lot B-77 --instruction "
                      "'replace the board'",
                      Open});
  catalog->push_back({"recall-block",
                      kGroup,
                      Kind::kRecords,
                      "block every unit that a recall covers, all at once",
                      {kRecall},
                      {},
                      "ferrule recall-block N-7",
                      Block});
  catalog->push_back(
      {"recall-note",
       kGroup,
       Kind::kRecords,
       "say what became of one item of a recall",
       {kRecall,
        {"ITEM", "unit, part, lot or order, by id or full name"},
        {"OUTCOME", "contacted, corrected, returned, destroyed, not-covered or unaccounted"}},
       {{"--contact", "TEXT", "how the holder was reached"},
        {"--evidence", "TEXT", "what shows it"}},
       "ferrule recall-note N-7 K-0417 corrected --evidence 'repair order 12'",
       Note});
  catalog->push_back({"recall-close",
                      kGroup,
                      Kind::kRecords,
                      "close a recall",
                      {kRecall},
                      {{"--reason", "TEXT", "why, when items are open"}},
                      "ferrule recall-close N-7",
                      Close});
  catalog->push_back({"recall",
                      kGroup,
                      Kind::kReads,
                      "list what a recall covers, who has it, and how far it has come",
                      {kRecall},
                      {{"--open", "", "only what is not dealt with"}},
                      "ferrule recall N-7 --open",
                      Show});
  catalog->push_back({"affected",
                      kGroup,
                      Kind::kReads,
                      "look what a notice would cover, before a recall is opened",
                      {},
                      ScopeFlags(),
                      "ferrule affected --part-lot B-77",
                      LookFor});
  catalog->push_back({"recalls",
                      kGroup,
                      Kind::kReads,
                      "list recalls",
                      {},
                      {{"--all", "", "closed ones as well"}, kLimitFlag},
                      "ferrule recalls",
                      Recalls});
}

}  // namespace ferrule::cli
