// Corrections: a mistaken fact is reversed, an open question is answered. Nothing is overwritten.
#include "absl/strings/numbers.h"
#include "absl/strings/str_cat.h"
#include "cli/catalog.h"
#include "cli/look_up.h"
#include "cli/nearest.h"
#include "cli/render_findings.h"
#include "cli/report.h"
#include "cli/values.h"
#include "core/fact/subject.h"

namespace ferrule::cli {
namespace {

// The entry of that position in the ledger, or of that id; `of` narrows the search for an id.
absl::StatusOr<v1::Entry> FindEntry(Session& session, const std::string& typed,
                                    const std::string& of) {
  v1::ListEntriesRequest request;
  int64_t sequence = 0;
  const bool by_number = absl::SimpleAtoi(typed, &sequence) && sequence > 0;
  request.set_after_sequence(by_number ? sequence - 1 : 0);
  request.set_page_size(by_number ? 1 : 1000);
  if (!by_number) request.set_subject(of);
  while (true) {
    v1::ListEntriesResponse page;
    const absl::Status asked =
        session.Ask(&v1::LedgerService::StubInterface::ListEntries, request, &page);
    if (!asked.ok()) return asked;
    for (const v1::LedgerEntry& recorded : page.entries()) {
      if (by_number ? recorded.sequence() == sequence : recorded.entry().entry_id() == typed) {
        return recorded.entry();
      }
    }
    if (by_number || page.next_after_sequence() == 0) break;
    request.set_after_sequence(page.next_after_sequence());
  }
  return absl::NotFoundError(absl::StrCat(
      "there is no entry '", typed, "'; ferrule history NAME lists entries with number and id"));
}

absl::Status Reverse(Session& session, const Line& line) {
  absl::StatusOr<Report> report = Report::Begin(session);
  if (!report.ok()) return report.status();
  if (!line.Has("--because")) {
    return absl::InvalidArgumentError("say why the entry was a mistake: --because TEXT");
  }
  std::string of;
  if (line.Has("--of")) {
    const auto name = FullName(session, *line.Get("--of"));
    if (!name.ok()) return name.status();
    of = *name;
  }
  const auto entry = FindEntry(session, line.Arg("ENTRY"), of);
  if (!entry.ok()) return entry.status();
  int64_t index = 0;
  const bool whole = line.Arg("INDEX").empty();
  if (whole ? entry->facts_size() > 1
            : !absl::SimpleAtoi(line.Arg("INDEX"), &index) || index < 0 ||
                  index >= entry->facts_size()) {
    return absl::InvalidArgumentError(
        absl::StrCat("the entry has ", entry->facts_size(), " facts; say which with an INDEX from ",
                     "0 to ", entry->facts_size() - 1, ", or reverse them one after the other"));
  }
  v1::Reversal& fact = *report->Add()->mutable_reversal();
  fact.mutable_fact()->set_entry_id(entry->entry_id());
  fact.mutable_fact()->set_index(static_cast<int32_t>(index));
  for (const std::string& name : fact::SubjectsOf(entry->facts(static_cast<int>(index)))) {
    fact.add_subjects(name);
  }
  fact.set_because(*line.Get("--because"));
  return report->Send();
}

// The one open question that is meant.
absl::StatusOr<v1::Finding> FindQuestion(Session& session, const std::string& name) {
  const Line& line = session.line();
  v1::ListQuestionsRequest request;
  request.set_subject(name);
  request.set_page_size(1000);
  v1::ListQuestionsResponse page;
  const absl::Status asked =
      session.Ask(&v1::DepotService::StubInterface::ListQuestions, request, &page);
  if (!asked.ok()) return asked;
  const v1::Reason rule = RuleOf(line.Arg("RULE"));
  const std::string entry = line.Get("--entry").value_or("");
  std::vector<const v1::Finding*> meant;
  std::vector<std::string> rules;
  for (const v1::Finding& question : page.questions()) {
    rules.push_back(RuleWord(question.reason()));
    if (question.reason() != rule) continue;
    if (entry.empty() || question.fact().entry_id() == entry) meant.push_back(&question);
  }
  if (meant.size() == 1) return *meant.front();
  if (meant.empty()) {
    return absl::NotFoundError(absl::StrCat(
        "no such question is open about ", name,
        DidYouMean(line.Arg("RULE"), std::vector<std::string_view>(rules.begin(), rules.end())),
        " ferrule questions ", name, " lists them"));
  }
  std::string list;
  for (const v1::Finding* question : meant) {
    absl::StrAppend(&list, "\n--entry ", question->fact().entry_id(), "  ", question->text());
  }
  return absl::InvalidArgumentError(
      absl::StrCat(meant.size(), " such questions are open; say which:", list));
}

absl::Status Answer(Session& session, const Line& line) {
  absl::StatusOr<Report> report = Report::Begin(session);
  if (!report.ok()) return report.status();
  const auto name = FullName(session, line.Arg("NAME"));
  if (!name.ok()) return name.status();
  const auto question = FindQuestion(session, *name);
  if (!question.ok()) return question.status();
  v1::QuestionAnswered& fact = *report->Add()->mutable_question_answered();
  fact.set_subject(*name);
  *fact.mutable_fact() = question->fact();
  fact.set_rule(question->reason());
  fact.set_explanation(line.Arg("EXPLANATION"));
  return report->Send();
}

}  // namespace

void AddCorrectionCommands(Catalog* catalog) {
  constexpr auto kGroup = Group::kKeep;
  catalog->push_back({"reverse",
                      kGroup,
                      Kind::kRecords,
                      "mark a recorded fact as a mistake; both stay readable",
                      {{"ENTRY", "number or id of its entry"},
                       {"INDEX", "which fact of the entry, from 0", Arity::kOptional}},
                      {{"--of", "NAME", "what the entry is about; finds an id faster"}},
                      "ferrule reverse 118 --because 'wrong unit scanned'",
                      Reverse});
  catalog->push_back({"answer",
                      kGroup,
                      Kind::kRecords,
                      "answer an open question",
                      {{"NAME", "the unit, order, part or lot it is about"},
                       {"RULE", "the broken rule, as ferrule questions names it"},
                       {"EXPLANATION", "what is the case, in quotes"}},
                      {{"--entry", "ID", "entry that raised it, when several did"}},
                      "ferrule answer K-0417 not-picked-up 'driver forgot to scan'",
                      Answer});
}

}  // namespace ferrule::cli
