#include "cli/outbox.h"

#include <chrono>
#include <cstdlib>
#include <thread>
#include <utility>
#include <vector>

#include "absl/strings/match.h"
#include "absl/strings/str_cat.h"
#include "absl/strings/str_join.h"
#include "absl/time/time.h"
#include "cli/failure.h"
#include "cli/kept_settings.h"
#include "cli/render_findings.h"
#include "cli/render_table.h"
#include "core/fact/counted.h"
#include "core/fact/words.h"
#include "core/time/civil.h"
#include "core/time/clock.h"

namespace ferrule::cli {
namespace {

// A clock that is off by less is taken for right: the way to the server takes time, too.
constexpr int64_t kMostSkewUs = 60'000'000;
constexpr size_t kMostNote = 2'000;  // characters of a fact's note
// Another report that is being sent has the file for a moment.
constexpr std::chrono::seconds kPatience{15};
constexpr std::chrono::milliseconds kPause{20};

int64_t Now() { return time::SystemClock().NowMicros(); }

// "12 min 5 s ahead".
std::string OffBy(int64_t skew_us) {
  const int64_t seconds = (std::abs(skew_us) + 500'000) / 1'000'000;
  return absl::StrCat(absl::FormatDuration(absl::Seconds(seconds)),
                      skew_us > 0 ? " ahead" : " behind");
}

// What nobody but the depot itself decides: it was asked, and said no.
bool IsAnswer(const absl::Status& status) { return ExitOf(status) != Exit::kUnavailable; }

}  // namespace

std::string EntryWords(const v1::Entry& entry) {
  std::vector<std::string> words;
  for (const v1::Fact& fact : entry.facts()) words.push_back(fact::Describe(fact));
  return Printable(absl::StrJoin(words, "; "));
}

std::string RecordedWords(const v1::Receipt& receipt, const v1::Entry& entry) {
  std::string text =
      absl::StrCat(receipt.repeated() ? "had been recorded as no. " : "recorded as no. ",
                   receipt.sequence(), ": ", EntryWords(entry), "\n");
  if (receipt.questions_size() > 0) {
    absl::StrAppend(&text, "opened ",
                    fact::Counted(receipt.questions_size(), "question:\n", "questions:\n"),
                    FindingLines(receipt.questions()));
  }
  return text;
}

absl::StatusOr<std::unique_ptr<Outbox>> Outbox::Open(Session& session) {
  const auto path = session.OutboxPath();
  if (!path.has_value()) return std::unique_ptr<Outbox>();
  std::unique_ptr<Outbox> outbox(new Outbox(session));
  const Target& target = session.target();
  const auto until = std::chrono::steady_clock::now() + kPatience;
  for (;;) {
    auto journal =
        Journal::Open(*path, target.server.value_or(target.depot.value_or("")), kOutboxWords);
    if (journal.ok()) {
      outbox->journal_ = *std::move(journal);
      return outbox;
    }
    const bool in_use = absl::StrContains(journal.status().message(), "is in use by");
    if (!in_use || std::chrono::steady_clock::now() >= until) return journal.status();
    std::this_thread::sleep_for(kPause);
  }
}

absl::Status Outbox::Reach() {
  v1::GetServerInfoResponse info;
  const int64_t before = Now();
  const absl::Status asked = session_.Ask(&v1::LedgerService::StubInterface::GetServerInfo,
                                          v1::GetServerInfoRequest(), &info);
  if (!asked.ok()) return asked;
  skew_us_ = (before + Now()) / 2 - time::ToMicros(info.now_time());
  const auto settings = session_.Settings();
  if (settings.ok()) KeepSettings(journal_->path(), **settings);
  return absl::OkStatus();
}

std::string Outbox::SkewWords() const {
  if (!skew_us_.has_value() || std::abs(*skew_us_) <= kMostSkewUs) return "";
  return absl::StrCat("this machine's clock is ", OffBy(*skew_us_),
                      " of the server's: set it right; the times of reports that it gave are "
                      "corrected");
}

absl::Status Outbox::Keep(v1::Entry entry, bool from_clock) {
  return journal_->Keep(entry, from_clock);
}

// The instant that the clock gave stays in the entry as the reporter's own time, and in words. An
// entry that was corrected is kept so before it is sent: sent again it must be the same.
absl::StatusOr<v1::Entry> Outbox::Corrected(v1::Entry entry, std::string* words) {
  if (!journal_->from_clock(entry.entry_id()) || !skew_us_.has_value()) return entry;
  if (std::abs(*skew_us_) > kMostSkewUs) {
    const int64_t shown = time::ToMicros(entry.device_time());
    const std::string note = absl::StrCat("Time corrected: the clock that gave ",
                                          time::FormatUtc(shown), " was ", OffBy(*skew_us_), ".");
    for (v1::Fact& fact : *entry.mutable_facts()) {
      if (time::ToMicros(fact.happened_time()) != shown) continue;
      time::SetMicros(shown - *skew_us_, fact.mutable_happened_time());
      const std::string both = fact.note().empty() ? note : absl::StrCat(fact.note(), " ", note);
      if (both.size() <= kMostNote) fact.set_note(both);
    }
    absl::StrAppend(words, "time corrected by ", OffBy(-*skew_us_), ": ", EntryWords(entry), "\n");
  }
  if (absl::Status kept = journal_->Keep(entry); !kept.ok()) return kept;
  return entry;
}

absl::Status Outbox::SendOne(const std::string& entry_id, Sent* sent) {
  v1::RecordRequest request;
  for (const v1::Entry& entry : journal_->waiting()) {
    if (entry.entry_id() == entry_id) *request.mutable_entry() = entry;
  }
  const auto corrected = Corrected(request.entry(), &sent->words);
  if (!corrected.ok()) return corrected.status();
  *request.mutable_entry() = *corrected;
  v1::RecordResponse response;
  const absl::Status answered =
      session_.Ask(&v1::LedgerService::StubInterface::Record, request, &response);
  if (answered.ok()) {
    ++sent->recorded;
    sent->words += RecordedWords(response.receipt(), request.entry());
    journal_->Settle(entry_id);
    return absl::OkStatus();
  }
  if (!IsAnswer(answered)) return answered;
  ++sent->refused;
  const std::string why = FailureText(answered);
  absl::StrAppend(&sent->words, "NOT recorded: ", EntryWords(request.entry()), "\n", why);
  return journal_->Refuse(entry_id, why);
}

Outbox::Sent Outbox::Send() {
  Sent sent;
  std::vector<std::string> ids;
  for (const v1::Entry& entry : journal_->waiting()) {
    if (journal_->RefusalOf(entry.entry_id()).empty()) ids.push_back(entry.entry_id());
  }
  for (const std::string& id : ids) {
    sent.ended = SendOne(id, &sent);
    if (!sent.ended.ok()) break;
  }
  return sent;
}

}  // namespace ferrule::cli
