#include "cli/report.h"

#include <chrono>
#include <thread>

#include "absl/strings/str_cat.h"
#include "absl/strings/str_join.h"
#include "absl/strings/str_split.h"
#include "cli/entry_id.h"
#include "cli/nearest.h"
#include "cli/outbox.h"
#include "cli/render_findings.h"
#include "cli/render_unit.h"
#include "cli/render_words.h"
#include "cli/values.h"
#include "core/fact/counted.h"
#include "core/fact/words.h"
#include "core/time/civil.h"
#include "nlohmann/json.hpp"

namespace ferrule::cli {
namespace {

constexpr int kAttempts = 3;
constexpr std::chrono::milliseconds kFirstPause{100};

absl::StatusOr<std::vector<v1::Override>> ReadOverrides(const Line& line) {
  std::vector<v1::Override> overrides;
  for (const std::string& word : line.All("--override")) {
    v1::Override one;
    one.set_rule(RuleOf(word));
    if (one.rule() == v1::REASON_UNSPECIFIED) {
      std::vector<std::string> words;
      const auto* descriptor = v1::Reason_descriptor();
      for (int i = 1; i < descriptor->value_count(); ++i) {
        words.push_back(RuleWord(static_cast<v1::Reason>(descriptor->value(i)->number())));
      }
      return absl::InvalidArgumentError(
          absl::StrCat("--override: there is no rule '", word, "'",
                       DidYouMean(word, std::vector<std::string_view>(words.begin(), words.end())),
                       " The rule stands in brackets behind each reason of a refusal."));
    }
    if (!line.Has("--authority") || !line.Has("--because")) {
      return absl::InvalidArgumentError(
          "--override needs --authority NAME, who takes the responsibility, and --because TEXT");
    }
    one.set_authority(*line.Get("--authority"));
    one.set_because(*line.Get("--because"));
    overrides.push_back(one);
  }
  if (overrides.empty() && line.Has("--authority")) {
    return absl::InvalidArgumentError("--authority is of use only together with --override RULE");
  }
  return overrides;
}

// A word as a shell takes it back.
std::string Quoted(const std::string& word) {
  if (!word.empty() && word.find_first_not_of("abcdefghijklmnopqrstuvwxyzABCDEFGHIJKLMNOPQRSTUVWXYZ"
                                              "0123456789-_./=:,+@") == std::string::npos) {
    return word;
  }
  std::string quoted = "'";
  for (const char c : word) quoted += c == '\'' ? std::string("'\\''") : std::string(1, c);
  return quoted + "'";
}

void RemarkLines(Session& session, const std::string& text) {
  for (const absl::string_view line : absl::StrSplit(text, '\n', absl::SkipEmpty())) {
    session.Remark(std::string(line));
  }
}

}  // namespace

absl::StatusOr<Report> Report::Begin(Session& session) {
  const Line& line = session.line();
  Report report(session);
  const auto actor = line.GetOrEnv("--as", "FERRULE_ACTOR");
  if (!actor.has_value()) {
    return absl::InvalidArgumentError(
        "it is not known who reports; add --as NAME or set FERRULE_ACTOR, for instance "
        "--as tech-ada");
  }
  const auto overrides = ReadOverrides(line);
  if (!overrides.ok()) return overrides.status();
  report.overrides_ = *overrides;
  Values values(session);
  report.at_us_ = values.Instant("--at").value_or(session.now_us());
  if (!values.status().ok()) return values.status();
  v1::Entry& entry = report.entry_;
  entry.set_entry_id(line.Get("--entry-id").value_or(NewEntryId()));
  entry.set_actor(*actor);
  entry.set_channel(line.Get("--channel").value_or("counter"));
  entry.set_mode(line.Has("--observed") ? v1::ENTRY_MODE_OBSERVED : v1::ENTRY_MODE_ENFORCED);
  return report;
}

v1::Fact* Report::AddAt(int64_t happened_us) {
  v1::Fact* fact = entry_.add_facts();
  time::SetMicros(happened_us, fact->mutable_happened_time());
  for (const v1::Override& one : overrides_) *fact->add_overrides() = one;
  IfGiven(session_->line().Get("--note"), [&](const std::string& note) { fact->set_note(note); });
  return fact;
}

v1::Entry Report::Blank(size_t n) const {
  v1::Entry entry = entry_;
  entry.clear_facts();
  entry.set_entry_id(absl::StrCat(entry_.entry_id(), "-", n));
  return entry;
}

void Report::LookedUp(std::string_view flag, std::string_view value) {
  if (session_->line().Has(flag) || value.empty()) return;
  looked_up_.push_back(absl::StrCat(std::string(flag), " ", Quoted(std::string(value))));
}

absl::Status Report::Record(bool check, v1::Receipt* receipt) {
  v1::RecordRequest request;
  *request.mutable_entry() = entry_;
  request.set_validate_only(check);
  std::chrono::milliseconds pause = kFirstPause;
  for (int attempt = 1;; ++attempt) {
    v1::RecordResponse response;
    const absl::Status recorded =
        session_->Ask(&v1::LedgerService::StubInterface::Record, request, &response);
    if (recorded.ok()) *receipt = response.receipt();
    const bool again = recorded.code() == absl::StatusCode::kUnavailable &&
                       OutcomeUnknown(recorded) && attempt < kAttempts;
    if (!again) return recorded;
    std::this_thread::sleep_for(pause);
    pause *= 2;
  }
}

std::string Report::RepeatLine() const {
  const Line& line = session_->line();
  std::string text = "ferrule";
  for (const std::string& word : line.words()) absl::StrAppend(&text, " ", Quoted(word));
  for (const std::string& flag : looked_up_) absl::StrAppend(&text, " ", flag);
  if (!line.Has("--at")) absl::StrAppend(&text, " --at ", time::FormatUtc(at_us_));
  if (!line.Has("--entry-id")) absl::StrAppend(&text, " --entry-id ", entry_.entry_id());
  return text;
}

std::string Report::UnitNow(const std::string& unit) {
  v1::GetUnitRequest request;
  request.set_name("units/" + unit);
  v1::GetUnitResponse response;
  if (!session_->Ask(&v1::DepotService::StubInterface::GetUnit, request, &response).ok()) return "";
  return absl::StrCat(unit, " now: ", AxesWords(response.state().unit()), "\n");
}

void Report::ShowReceipt(const v1::Receipt& receipt, const std::string& unit,
                         std::string_view caution) {
  const bool check = session_->line().Has("--check");
  std::vector<std::string> words;
  for (const v1::Fact& fact : entry_.facts()) words.push_back(fact::Describe(fact));
  Table table({{"sequence", true},
               {"entry_id"},
               {"recorded_time"},
               {"repeated"},
               {"question_count", true}});
  const bool recorded = receipt.has_recorded_time();
  table.Add({recorded ? absl::StrCat(receipt.sequence()) : "", receipt.entry_id(),
             recorded ? time::FormatUtc(time::ToMicros(receipt.recorded_time())) : "",
             receipt.repeated() ? "1" : "0", absl::StrCat(receipt.questions_size())});
  std::string text;
  if (session_->format() == Format::kText) {
    const std::string what = Printable(absl::StrJoin(words, "; "));
    if (check) {
      text = absl::StrCat("would be recorded: ", what, "\n");
    } else {
      text = absl::StrCat(receipt.repeated() ? "had been recorded" : "recorded", " as no. ",
                          receipt.sequence(), ": ", what, "\nentry ", entry_.entry_id(), "\n");
    }
    if (receipt.questions_size() > 0) {
      absl::StrAppend(&text, check ? "would open " : "opened ",
                      fact::Counted(receipt.questions_size(), "question:\n", "questions:\n"),
                      FindingLines(receipt.questions()));
    }
    if (!unit.empty() && !check) text += UnitNow(unit);
    if (!caution.empty()) absl::StrAppend(&text, std::string(caution), "\n");
  }
  session_->Show(receipt, table, text);
}

// What waited from before goes first: this one may rest on it.
absl::Status Report::SendThrough(Outbox& outbox, v1::Receipt* receipt, bool* kept) {
  const absl::Status reached = outbox.Reach();
  time::SetMicros(session_->now_us(), entry_.mutable_device_time());
  const bool away = ExitOf(reached) == Exit::kUnavailable;
  if (away) entry_.set_mode(v1::ENTRY_MODE_OBSERVED);
  if (const std::string skew = outbox.SkewWords(); !skew.empty()) session_->Remark(skew);
  if (!away) {
    const Outbox::Sent sent = outbox.Send();
    if (!sent.words.empty()) RemarkLines(*session_, "from the outbox:\n" + sent.words);
  }
  const bool from_clock = !session_->line().Has("--at");
  if (absl::Status safe = outbox.Keep(entry_, from_clock); !safe.ok()) {
    return absl::Status(safe.code(),
                        absl::StrCat("NOT kept and not sent: ", std::string(safe.message())));
  }
  *kept = true;
  if (away) return reached;
  std::string corrected_words;
  const auto corrected = outbox.Corrected(entry_, &corrected_words);
  if (!corrected.ok()) return corrected.status();
  RemarkLines(*session_, corrected_words);
  entry_ = *corrected;
  const absl::Status recorded = Record(/*check=*/false, receipt);
  if (ExitOf(recorded) == Exit::kUnavailable) return recorded;
  outbox.Settle(entry_.entry_id());
  *kept = false;
  return recorded;
}

void Report::ShowKept(const Outbox& outbox, const absl::Status& why) {
  const size_t waiting = outbox.journal().waiting().size();
  if (session_->format() == Format::kJson) {
    nlohmann::ordered_json json;
    json["kept"] = true;
    json["entryId"] = entry_.entry_id();
    json["outbox"] = outbox.journal().path();
    json["waiting"] = waiting;
    session_->out().Write(json.dump(2) + "\n");
    return;
  }
  if (session_->format() == Format::kCsv) {
    Table table({{"kept"}, {"entry_id"}, {"outbox"}, {"waiting", true}});
    table.Add({"1", entry_.entry_id(), outbox.journal().path(), absl::StrCat(waiting)});
    session_->out().Write(table.Csv());
    return;
  }
  const bool observed = entry_.mode() == v1::ENTRY_MODE_OBSERVED;
  session_->out().Write(absl::StrCat(
      "kept in ", outbox.journal().path(),
      observed ? ", not recorded yet: " : "; whether it was recorded is not known: ",
      EntryWords(entry_), "\nentry ", entry_.entry_id(), "\n",
      observed
          ? "It is kept as observed: what it breaks becomes a question when the depot hears of "
            "it.\n"
          : "",
      fact::Counted(static_cast<int64_t>(waiting), "report waits", "reports wait"),
      "; they are sent with the next report, or by ferrule outbox send\n"));
  session_->Remark(absl::StrCat("the server is away: ", std::string(why.message())));
}

// `unit` is the caller's word out of the entry, which the outbox may write anew.
absl::Status Report::Send(std::string unit, std::string_view caution) {
  v1::Receipt receipt;
  absl::StatusOr<std::unique_ptr<Outbox>> outbox = std::unique_ptr<Outbox>();
  if (!session_->line().Has("--check")) outbox = Outbox::Open(*session_);
  if (!outbox.ok()) return outbox.status();
  bool kept = false;
  const absl::Status recorded = *outbox == nullptr
                                    ? Record(session_->line().Has("--check"), &receipt)
                                    : SendThrough(**outbox, &receipt, &kept);
  if (kept) {
    ShowKept(**outbox, recorded);
    return absl::OkStatus();
  }
  if (recorded.ok()) {
    ShowReceipt(receipt, unit, caution);
    return recorded;
  }
  if (session_->line().Has("--check") || !OutcomeUnknown(recorded)) return recorded;
  absl::Status told(
      recorded.code(),
      absl::StrCat(std::string(recorded.message()),
                   "\nIt is not known whether the report was recorded. Repeat it; the "
                   "entry id makes that safe:\n  ",
                   RepeatLine()));
  return told;
}

}  // namespace ferrule::cli
