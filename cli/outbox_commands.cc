// ferrule outbox: what was reported while the server was away, and what became of it.
#include <optional>

#include "absl/strings/str_cat.h"
#include "cli/catalog.h"
#include "cli/entry_id.h"
#include "cli/outbox.h"
#include "cli/render_json.h"
#include "cli/render_table.h"
#include "cli/render_words.h"
#include "core/fact/counted.h"
#include "core/time/civil.h"

namespace ferrule::cli {
namespace {

absl::StatusOr<std::unique_ptr<Outbox>> Named(Session& session) {
  auto outbox = Outbox::Open(session);
  if (outbox.ok() && *outbox == nullptr) {
    return absl::InvalidArgumentError(
        "no outbox is named; add --outbox FILE or set FERRULE_OUTBOX, as with the reports that "
        "went into it");
  }
  return outbox;
}

std::string Reports(size_t count) {
  return fact::Counted(static_cast<int64_t>(count), "report", "reports");
}

// Ids made at about the same time begin alike, and end as chance has it.
absl::StatusOr<v1::Entry> Find(const Outbox& outbox, const std::string& id) {
  std::optional<v1::Entry> found;
  for (const v1::Entry& entry : outbox.journal().waiting()) {
    if (entry.entry_id() == id) return entry;
    const bool alike = entry.entry_id().starts_with(id) || entry.entry_id().ends_with(id);
    if (!id.empty() && alike) {
      if (found.has_value()) {
        return absl::InvalidArgumentError(
            absl::StrCat(id, " begins or ends several; write more of the entry id"));
      }
      found = entry;
    }
  }
  if (found.has_value()) return *found;
  return absl::NotFoundError(absl::StrCat("no report ", id, " waits in ", outbox.journal().path(),
                                          "; ferrule outbox lists them by their entry ids"));
}

absl::Status List(Session& session, const Line&) {
  const auto outbox = Named(session);
  if (!outbox.ok()) return outbox.status();
  const Journal& journal = (*outbox)->journal();
  const absl::TimeZone zone = session.zones().OfBranch("");
  Table table({{"entry_id"}, {"happened"}, {"actor"}, {"mode"}, {"report"}, {"refused"}});
  std::string refusals;
  for (const v1::Entry& entry : journal.waiting()) {
    const std::string why = journal.RefusalOf(entry.entry_id());
    table.Add({entry.entry_id(),
               entry.facts_size() > 0 ? Local(entry.facts(0).happened_time(), zone) : "",
               entry.actor(), entry.mode() == v1::ENTRY_MODE_OBSERVED ? "observed" : "enforced",
               EntryWords(entry), why.empty() ? "" : "refused"});
    if (!why.empty()) absl::StrAppend(&refusals, "\nentry ", entry.entry_id(), ": ", why);
  }
  if (session.format() == Format::kCsv) {
    session.out().Write(table.Csv());
  } else if (session.format() == Format::kJson) {
    for (const v1::Entry& entry : journal.waiting()) session.out().Write(JsonLine(entry));
  } else if (table.empty()) {
    session.out().Write(absl::StrCat("nothing waits in ", journal.path(), "\n"));
  } else {
    session.out().Write(absl::StrCat(
        table.Text(), Reports(journal.waiting().size()), " in ", journal.path(), "\n", refusals,
        refusals.empty() ? ""
                         : "\nFor a refused one: ferrule outbox observe ENTRY records what has "
                           "happened all the same and asks;\nferrule outbox drop ENTRY takes out "
                           "what has not.\n"));
  }
  return absl::OkStatus();
}

absl::Status SendAll(Session& session, const Line&) {
  const auto outbox = Named(session);
  if (!outbox.ok()) return outbox.status();
  const Journal& journal = (*outbox)->journal();
  const size_t before = journal.waiting().size();
  if (absl::Status reached = (*outbox)->Reach(); !reached.ok()) {
    return absl::UnavailableError(absl::StrCat(std::string(reached.message()), "\n",
                                               Reports(before), " still in ", journal.path()));
  }
  const std::string skew = (*outbox)->SkewWords();
  if (!skew.empty()) session.Remark(skew);
  const Outbox::Sent sent = (*outbox)->Send();
  session.out().Write(sent.words);
  session.out().Write(absl::StrCat(Reports(static_cast<size_t>(sent.recorded)), " recorded, ",
                                   journal.waiting().size(), " left\n"));
  if (!sent.ended.ok()) {
    session.out().Flush();
    return absl::UnavailableError(absl::StrCat(std::string(sent.ended.message()), "\n",
                                               Reports(journal.waiting().size()), " still in ",
                                               journal.path(), "; run it again"));
  }
  if (!journal.waiting().empty()) {
    session.out().Flush();
    return absl::FailedPreconditionError(absl::StrCat(Reports(journal.waiting().size()),
                                                      " refused and still in ", journal.path(),
                                                      "; ferrule outbox shows why"));
  }
  return absl::OkStatus();
}

absl::Status Drop(Session& session, const Line& line) {
  const auto outbox = Named(session);
  if (!outbox.ok()) return outbox.status();
  const auto entry = Find(**outbox, line.Arg("ENTRY"));
  if (!entry.ok()) return entry.status();
  (*outbox)->Settle(entry->entry_id());
  session.out().Write(absl::StrCat("taken out, it is not recorded by this: ", EntryWords(*entry),
                                   "\nentry ", entry->entry_id(), "\n"));
  return absl::OkStatus();
}

// Under an id of its own: the depot keeps what it refused under the first one.
absl::Status Observe(Session& session, const Line& line) {
  const auto outbox = Named(session);
  if (!outbox.ok()) return outbox.status();
  auto entry = Find(**outbox, line.Arg("ENTRY"));
  if (!entry.ok()) return entry.status();
  const std::string id = entry->entry_id();
  if ((*outbox)->journal().RefusalOf(id).empty()) {
    return absl::FailedPreconditionError(absl::StrCat(
        id, " was not refused; ferrule outbox send sends it as it is, or asks what became of it"));
  }
  entry->set_entry_id(NewEntryId());
  entry->set_mode(v1::ENTRY_MODE_OBSERVED);
  if (absl::Status kept = (*outbox)->Keep(*entry, /*from_clock=*/false); !kept.ok()) return kept;
  (*outbox)->Settle(id);
  session.out().Write(absl::StrCat("kept as observed: ", EntryWords(*entry), "\nentry ",
                                   entry->entry_id(), "\nferrule outbox send sends it\n"));
  return absl::OkStatus();
}

}  // namespace

void AddOutboxCommands(Catalog* catalog) {
  constexpr auto kGroup = Group::kKeep;
  const Flag file = {"--outbox", "FILE", "the outbox (or FERRULE_OUTBOX)"};
  catalog->push_back({"outbox",
                      kGroup,
                      Kind::kWorks,
                      "list reports that wait for the server, and those that it refused",
                      {},
                      {file},
                      "ferrule outbox --outbox field.outbox",
                      List});
  catalog->push_back({"outbox send",
                      kGroup,
                      Kind::kWorks,
                      "send the reports that wait; each is recorded once, however often it is sent",
                      {},
                      {file},
                      "ferrule outbox send --outbox field.outbox",
                      SendAll});
  catalog->push_back({"outbox observe",
                      kGroup,
                      Kind::kWorks,
                      "keep a refused report as observed: it has happened, and the depot asks",
                      {{"ENTRY", "its entry id, or how that begins or ends"}},
                      {file},
                      "ferrule outbox observe 9c1f --outbox field.outbox",
                      Observe});
  catalog->push_back({"outbox drop",
                      kGroup,
                      Kind::kWorks,
                      "take a report out of the outbox without recording it",
                      {{"ENTRY", "its entry id, or how that begins or ends"}},
                      {file},
                      "ferrule outbox drop 9c1f --outbox field.outbox",
                      Drop});
}

}  // namespace ferrule::cli
