// Answers out of the ledger itself: questions, history, feed, info.
#include <algorithm>

#include "absl/strings/escaping.h"
#include "absl/strings/str_cat.h"
#include "absl/strings/str_join.h"
#include "cli/catalog.h"
#include "cli/look_up.h"
#include "cli/pages.h"
#include "cli/render_fields.h"
#include "cli/render_findings.h"
#include "cli/render_json.h"
#include "cli/render_words.h"
#include "cli/values.h"
#include "core/fact/counted.h"
#include "core/fact/subject.h"
#include "core/fact/words.h"
#include "core/time/civil.h"

namespace ferrule::cli {
namespace {

absl::Status Questions(Session& session, const Line& line) {
  v1::ListQuestionsRequest request;
  if (!line.Arg("NAME").empty()) {
    const auto name = FullName(session, line.Arg("NAME"));
    if (!name.ok()) return name.status();
    request.set_subject(*name);
  }
  v1::ListQuestionsResponse all;
  const absl::Status asked =
      AskPages(session, &v1::DepotService::StubInterface::ListQuestions, request, &all,
               [](v1::ListQuestionsResponse& page) { return page.mutable_questions(); });
  if (!asked.ok()) return asked;
  std::string text = "no question is open\n";
  if (all.questions_size() > 0) {
    text.clear();
    for (const v1::Finding& question : all.questions()) {
      absl::StrAppend(&text, Printable(question.subject()), "  ", RuleWord(question.reason()),
                      "\n  ", Printable(question.text()), "\n");
      if (!question.remedy().empty()) {
        absl::StrAppend(&text, "  -> ", Printable(question.remedy()), "\n");
      }
    }
    absl::StrAppend(&text,
                    fact::Counted(all.questions_size(), "question is open", "questions are open"),
                    "; answer one with ferrule answer NAME RULE 'explanation'\n");
  }
  session.Show(all, FindingTable(all.questions(), session.zones().OfBranch("")), text);
  return absl::OkStatus();
}

absl::Status History(Session& session, const Line& line) {
  const auto name = FullName(session, line.Arg("NAME"));
  if (!name.ok()) return name.status();
  v1::ListHistoryRequest request;
  request.set_name(*name);
  const auto known = session.KnownAt();
  if (!known.ok()) return known.status();
  if (known->has_value()) time::SetMicros(**known, request.mutable_known_time());
  v1::ListHistoryResponse all;
  const absl::Status asked =
      AskPages(session, &v1::DepotService::StubInterface::ListHistory, request, &all,
               [](v1::ListHistoryResponse& page) { return page.mutable_rows(); });
  if (!asked.ok()) return asked;
  const absl::TimeZone zone = session.zones().OfBranch(line.Get("--branch").value_or(""));
  Table table({{"happened"},
               {"recorded"},
               {"actor"},
               {"text"},
               {"reversed"},
               {"sequence", true},
               {"entry_id"},
               {"index", true}});
  for (const v1::HistoryRow& row : all.rows()) {
    table.Add({Local(row.fact().happened_time(), zone), Local(row.recorded_time(), zone),
               row.actor(), row.text(), row.reversed() ? "reversed" : "",
               absl::StrCat(row.sequence()), row.ref().entry_id(),
               absl::StrCat(row.ref().index())});
  }
  const auto why = session.Explanation();
  if (!why.ok()) return why.status();
  session.Show(all, table,
               absl::StrCat(table.Text(), "Times are local (", zone.name(), ").\n", *why));
  return absl::OkStatus();
}

Table FeedTable() {
  return Table({{"sequence", true},
                {"recorded"},
                {"happened"},
                {"actor"},
                {"subjects"},
                {"text"},
                {"entry_id"},
                {"index", true}});
}

void AddToFeed(const v1::LedgerEntry& recorded, absl::TimeZone zone, Table* table) {
  const v1::Entry& entry = recorded.entry();
  for (int i = 0; i < entry.facts_size(); ++i) {
    const v1::Fact& fact = entry.facts(i);
    table->Add({absl::StrCat(recorded.sequence()), Local(recorded.recorded_time(), zone),
                Local(fact.happened_time(), zone), entry.actor(),
                absl::StrJoin(fact::SubjectsOf(fact), " "), fact::Describe(fact), entry.entry_id(),
                absl::StrCat(i)});
  }
}

// Entries as they come, each on its own line, until the reader goes away.
absl::Status Follow(Session& session, int64_t after, absl::TimeZone zone) {
  if (session.format() == Format::kCsv) session.out().Write(FeedTable().Csv());
  return session.Watch(after, [&](const v1::WatchEntriesResponse& batch) {
    for (const v1::LedgerEntry& recorded : batch.entries()) {
      if (session.format() == Format::kJson) {
        session.out().Write(JsonLine(recorded));
        continue;
      }
      Table table = FeedTable();
      AddToFeed(recorded, zone, &table);
      const std::string text = session.format() == Format::kCsv ? table.Csv() : table.Text();
      session.out().Write(text.substr(text.find('\n') + 1));  // without the heading
    }
    return session.out().Flush();
  });
}

absl::Status Feed(Session& session, const Line& line) {
  Values values(session);
  const int64_t after = values.Whole("--after").value_or(0);
  if (!values.status().ok()) return values.status();
  const absl::TimeZone zone = session.zones().OfBranch(line.Get("--branch").value_or(""));
  if (line.Has("--follow")) {
    if (line.Has("--of")) {
      return absl::InvalidArgumentError("--follow gives every entry; leave --of out");
    }
    // Nobody else could record as long as this process has the file.
    if (session.HasFileOpen()) {
      return absl::FailedPreconditionError(absl::StrCat(
          "nothing comes while this command has the depot to itself; let ferruled serve "
          "--depot ",
          session.target().depot.value_or("FILE"), " own it, then follow"));
    }
    return Follow(session, after, zone);
  }
  const auto limit = ReadLimit(session);
  if (!limit.ok()) return limit.status();
  v1::ListEntriesRequest request;
  request.set_after_sequence(after);
  if (line.Has("--of")) {
    const auto name = FullName(session, *line.Get("--of"));
    if (!name.ok()) return name.status();
    request.set_subject(*name);
  }
  v1::ListEntriesResponse all;
  while (all.entries_size() < *limit) {
    request.set_page_size(
        static_cast<int32_t>(std::min<int64_t>(1000, *limit - all.entries_size())));
    v1::ListEntriesResponse page;
    const absl::Status asked =
        session.Ask(&v1::LedgerService::StubInterface::ListEntries, request, &page);
    if (!asked.ok()) return asked;
    all.mutable_entries()->MergeFrom(page.entries());
    all.set_next_after_sequence(page.next_after_sequence());
    all.set_head_sequence(page.head_sequence());
    if (page.next_after_sequence() == 0) break;
    request.set_after_sequence(page.next_after_sequence());
  }
  if (all.next_after_sequence() != 0) SayThereIsMore(session, *limit);
  Table table = FeedTable();
  for (const v1::LedgerEntry& recorded : all.entries()) AddToFeed(recorded, zone, &table);
  session.Show(all, table, table.empty() ? "no entries\n" : table.Text());
  return absl::OkStatus();
}

absl::Status Info(Session& session, const Line&) {
  v1::GetServerInfoResponse info;
  const absl::Status asked = session.Ask(&v1::LedgerService::StubInterface::GetServerInfo,
                                         v1::GetServerInfoRequest(), &info);
  if (!asked.ok()) return asked;
  const absl::TimeZone zone = session.zones().OfBranch("");
  Fields fields;
  fields.Add("version", info.version());
  fields.Add("engine", info.engine());
  fields.Add("schema", absl::StrCat(info.schema_version()));
  fields.Add("entries", absl::StrCat(info.head_sequence()));
  fields.Add("digest", absl::BytesToHexString(info.head_digest()));
  fields.Add("clock", Local(info.now_time(), zone));
  fields.Add("zone", zone.name());
  fields.Add("data", info.label());
  session.Show(info, fields.AsTable(), fields.Text());
  return absl::OkStatus();
}

}  // namespace

void AddLedgerAnswers(Catalog* catalog) {
  constexpr auto kGroup = Group::kLook;
  catalog->push_back({"questions",
                      kGroup,
                      Kind::kReads,
                      "list open questions",
                      {{"NAME", "only this unit, order, part or lot", Arity::kOptional}},
                      {kLimitFlag},
                      "ferrule questions K-0417",
                      Questions});
  catalog->push_back({"history",
                      kGroup,
                      Kind::kReads,
                      "list what happened to something, in order",
                      {{"NAME", "its id or full name"}},
                      {kLimitFlag},
                      "ferrule history K-0417",
                      History});
  catalog->push_back({"feed",
                      kGroup,
                      Kind::kReads,
                      "list entries in the order they were recorded",
                      {},
                      {{"--after", "N", "entries after this number; default from the beginning"},
                       {"--of", "NAME", "only entries about this unit, order, part or lot"},
                       {"--follow", "", "go on as entries come; JSON is one entry a line"},
                       kLimitFlag},
                      "ferrule feed --after 100 --follow --format json",
                      Feed});
  catalog->push_back({"info",
                      kGroup,
                      Kind::kReads,
                      "show program, engine, ledger and clock",
                      {},
                      {},
                      "ferrule info",
                      Info});
}

}  // namespace ferrule::cli
