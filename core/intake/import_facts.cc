// Rows of units, stock, readings and test results taken in. Each becomes an observed fact under an
// id made from what the row says, so that the same row again, in this file or in a corrected one,
// adds nothing; what the fact breaks becomes a question as always.
#include <algorithm>
#include <atomic>
#include <deque>
#include <future>
#include <memory>
#include <optional>
#include <set>
#include <utility>

#include "absl/strings/str_cat.h"
#include "core/fact/subject.h"
#include "core/fact/validate.h"
#include "core/intake/digest.h"
#include "core/intake/fact_rows.h"
#include "core/intake/import_part.h"
#include "core/intake/intake.h"
#include "core/time/civil.h"

namespace ferrule::intake {
namespace {

using exchange::TroubleAt;

constexpr size_t kIdDigits = 40;
// Facts that are written together: many enough that their commit costs little, few enough that
// others who record do not wait long behind them.
constexpr size_t kChunkFacts = 250;
// Chunks on their way to the ledger while the next one is being read.
constexpr size_t kMostUnderWay = 2;

absl::TimeZone ZoneOfRows(const v1::Sender* sender, const depot::Rules& rules) {
  if (sender != nullptr && !sender->time_zone().empty()) {
    if (const auto named = time::Zone(sender->time_zone()); named.ok()) return *named;
  }
  if (sender != nullptr && !sender->branch().empty()) return rules.ZoneOf(sender->branch());
  if (rules.settings().branches_size() == 0) return absl::UTCTimeZone();
  return rules.ZoneOf(rules.settings().branches(0).id());
}

std::string UnitOf(const v1::Fact& fact) {
  if (fact.has_unit_received()) return fact.unit_received().unit();
  if (fact.has_meter_read()) return fact.meter_read().unit();
  if (fact.has_inspection_done()) return fact.inspection_done().unit();
  return "";
}

v1::Trouble TagInUse() {
  return TroubleAt(v1::TROUBLE_KIND_REFUSED, "unit", "is a tag that is in use already",
                   "give the unit a tag of its own, or take the row out");
}

// What the records lack for a fact to mean anything; nothing when it is all there.
absl::StatusOr<std::optional<v1::Trouble>> LacksRecord(ledger::Ledger& ledger,
                                                       const v1::Entry& entry) {
  const v1::Fact& fact = entry.facts(0);
  std::optional<v1::Trouble> none;
  const std::string unit = UnitOf(fact);
  if (unit.empty()) return none;
  auto state = ledger.Get(fact::SubjectName(fact::SubjectKind::kUnit, unit));
  if (!state.ok() && !absl::IsNotFound(state.status())) return state.status();
  const v1::Stamp* received =
      state.ok() && (*state)->unit().has_received() ? &(*state)->unit().received() : nullptr;
  if (fact.has_unit_received()) {
    if (received == nullptr || received->fact().entry_id() == entry.entry_id()) return none;
    return TagInUse();
  }
  if (received != nullptr) return none;
  return TroubleAt(v1::TROUBLE_KIND_REFUSED, "unit", "is not in the records",
                   "check the tag; a new unit is first received into the fleet");
}

// Whether the entry was recorded before. Its id stands for what the row says; who imported it, and
// when a row without a time did, may differ from the first time.
bool IsRepeated(const absl::StatusOr<v1::Receipt>& outcome) {
  if (outcome.ok()) return outcome->repeated();
  const auto info = outcome.status().GetPayload("type.googleapis.com/google.rpc.ErrorInfo");
  return info.has_value() && std::string(*info).find("REQUEST_ID_REUSED") != std::string::npos;
}

void CountOutcome(const absl::StatusOr<v1::Receipt>& outcome, const std::vector<int64_t>& lines,
                  v1::ImportRowsResponse* response) {
  const auto count = static_cast<int64_t>(lines.size());
  if (IsRepeated(outcome)) return CountRows(response->mutable_totals(), 0, count, 0, 0);
  if (outcome.ok()) return CountRows(response->mutable_totals(), count, 0, 0, 0);
  CountRows(response->mutable_totals(), 0, 0, 0, count);
  const v1::Trouble trouble = TroubleAt(v1::TROUBLE_KIND_REFUSED, "",
                                        std::string(outcome.status().message()), "correct the row");
  for (const int64_t line : lines) *response->add_bad_rows() = MakeBadRow(line, {trouble});
}

// What the ledger would answer to each entry, without keeping any.
std::vector<absl::StatusOr<v1::Receipt>> CheckAll(ledger::Ledger& ledger,
                                                  std::vector<v1::Entry> entries) {
  std::vector<std::promise<absl::StatusOr<v1::Receipt>>> promises(entries.size());
  for (size_t i = 0; i < entries.size(); ++i) {
    ledger.Record(std::move(entries[i]), "", true,
                  [&promises, i](absl::StatusOr<v1::Receipt> outcome) {
                    promises[i].set_value(std::move(outcome));
                  });
  }
  std::vector<absl::StatusOr<v1::Receipt>> outcomes;
  for (auto& promise : promises) outcomes.push_back(promise.get_future().get());
  return outcomes;
}

std::string EntryId(const v1::ImportRowsRequest& request, const std::string& text) {
  const std::string whole =
      absl::StrCat(request.sender(), "\n", static_cast<int>(request.kind()), "\n", text);
  return absl::StrCat("im-", HexDigest(whole).substr(0, kIdDigits));
}

// Facts of a part of a file on their way to the ledger, with what is answered about their rows.
struct Chunk {
  v1::ImportRowsResponse answer;
  std::vector<v1::Entry> entries;
  std::vector<std::vector<int64_t>> lines;  // of each entry
  std::promise<absl::Status> stored;
};

void Append(v1::ImportRowsResponse&& more, v1::ImportRowsResponse* answer) {
  const v1::ImportTotals& totals = more.totals();
  CountRows(answer->mutable_totals(), totals.accepted_count(), totals.repeated_count(),
            totals.queued_count(), totals.rejected_count());
  for (v1::BadRow& row : *more.mutable_bad_rows()) *answer->add_bad_rows() = std::move(row);
}

// A part of a file taken in: its rows are read while the facts of those before them are written.
class FactImport {
 public:
  FactImport(ledger::Ledger& ledger, const v1::ImportRowsRequest& request,
             const std::string& principal)
      : ledger_(ledger), request_(request), principal_(principal) {}
  ~FactImport() { Settle(0).IgnoreError(); }

  absl::Status Run(const ImportPart& part, const exchange::RowOptions& options) {
    FactRows rows(request_.kind(), part, options);
    for (size_t i = 0; i + 1 < part.records.size(); ++i) {
      rows.Read(part.records[i]);
      if (rows.fact_count() <= kChunkFacts) continue;
      const exchange::CsvRecord& next = part.records[i + 1];
      absl::Status sent = Send(rows.Take(false), {next.offset, next.line});
      if (!sent.ok()) return sent;
    }
    if (!part.records.empty()) rows.Read(part.records.back());
    absl::Status sent = Send(rows.Take(request_.last()), EndOf(request_));
    return sent.ok() ? Settle(0) : sent;
  }

  // What became of all rows.
  v1::ImportRowsResponse TakeAnswer() {
    std::stable_sort(answer_.mutable_bad_rows()->begin(), answer_.mutable_bad_rows()->end(),
                     [](const v1::BadRow& a, const v1::BadRow& b) { return a.line() < b.line(); });
    return std::move(answer_);
  }

 private:
  absl::Status Send(ReadRows rows, const RowPlace& next) {
    auto chunk = std::make_shared<Chunk>();
    const RowPlace& place = rows.left.has_value() ? *rows.left : next;
    chunk->answer.set_next_offset_bytes(place.offset);
    chunk->answer.set_next_line(place.line);
    for (v1::BadRow& row : rows.bad) *chunk->answer.add_bad_rows() = std::move(row);
    CountRows(chunk->answer.mutable_totals(), 0, 0, 0, chunk->answer.bad_rows_size());
    for (FactOfRows& fact : rows.facts) {
      absl::Status added = Add(std::move(fact), chunk.get());
      if (!added.ok()) return added;
    }
    if (request_.validate_only()) return Check(*chunk);
    absl::Status settled = Settle(kMostUnderWay - 1);
    if (settled.ok()) Write(std::move(chunk));
    return settled;
  }

  // The entry of a fact, or why there is none.
  absl::Status Add(FactOfRows fact, Chunk* chunk) {
    v1::Entry entry;
    entry.set_entry_id(EntryId(request_, fact.text));
    const auto count = static_cast<int64_t>(fact.lines.size());
    if (!ids_.insert(entry.entry_id()).second) {
      CountRows(chunk->answer.mutable_totals(), 0, count, 0, 0);
      return absl::OkStatus();
    }
    entry.set_actor(request_.actor());
    entry.set_channel("import");
    entry.set_mode(v1::ENTRY_MODE_OBSERVED);
    *entry.add_facts() = std::move(fact.fact);
    auto trouble = TroubleOf(entry);
    if (!trouble.ok()) return trouble.status();
    if (trouble->has_value()) {
      for (const int64_t line : fact.lines) {
        *chunk->answer.add_bad_rows() = MakeBadRow(line, {**trouble});
      }
      CountRows(chunk->answer.mutable_totals(), 0, 0, 0, count);
      return absl::OkStatus();
    }
    chunk->entries.push_back(std::move(entry));
    chunk->lines.push_back(std::move(fact.lines));
    return absl::OkStatus();
  }

  absl::StatusOr<std::optional<v1::Trouble>> TroubleOf(const v1::Entry& entry) {
    auto lacks = LacksRecord(ledger_, entry);
    if (!lacks.ok() || lacks->has_value()) return lacks;
    // A unit of the rows before may not be in the records yet.
    const v1::Fact& fact = entry.facts(0);
    if (fact.has_unit_received() && !received_.insert(UnitOf(fact)).second) return TagInUse();
    const auto violations = fact::Validate(entry);
    if (violations.empty()) return std::optional<v1::Trouble>();
    return TroubleAt(v1::TROUBLE_KIND_REFUSED, violations[0].field, violations[0].description,
                     "correct the row");
  }

  absl::Status Check(Chunk& chunk) {
    const auto outcomes = CheckAll(ledger_, std::move(chunk.entries));
    for (size_t i = 0; i < outcomes.size(); ++i) {
      CountOutcome(outcomes[i], chunk.lines[i], &chunk.answer);
    }
    Keep(std::move(chunk.answer));
    return absl::OkStatus();
  }

  // Records the entries and beside them how far the file has come. After a chunk that could not be
  // stored the file comes no further, though a later one can be: the file is read again from there.
  void Write(std::shared_ptr<Chunk> chunk) {
    under_way_.push_back(chunk);
    std::vector<v1::Entry> entries = std::move(chunk->entries);
    const auto settled = std::make_shared<v1::ImportRowsResponse>();
    const std::string id = ImportId(request_.file_sha256(), request_.kind(), request_.sender());
    ledger_.RecordBeside(
        std::move(entries), principal_,
        [this, chunk, settled, id](store::Connection& connection, const auto& results) {
          *settled = chunk->answer;  // the group may be tried again
          for (size_t i = 0; i < results.size(); ++i) {
            CountOutcome(results[i], chunk->lines[i], settled.get());
          }
          if (failed_) return absl::OkStatus();
          return PutImport(connection, id, ProgressOf(*settled, ledger_.clock().NowMicros()));
        },
        [this, chunk, settled](const absl::Status& stored, const auto&) {
          if (!stored.ok()) failed_ = true;
          chunk->answer = std::move(*settled);
          chunk->stored.set_value(stored);
        });
  }

  // Waits until at most so many chunks are under way.
  absl::Status Settle(size_t most) {
    absl::Status status;
    while (under_way_.size() > most) {
      absl::Status stored = under_way_.front()->stored.get_future().get();
      if (stored.ok()) {
        Keep(std::move(under_way_.front()->answer));
      } else if (status.ok()) {
        status = std::move(stored);
      }
      under_way_.pop_front();
    }
    return status;
  }

  void Keep(v1::ImportRowsResponse&& settled) {
    answer_.set_next_offset_bytes(settled.next_offset_bytes());
    answer_.set_next_line(settled.next_line());
    Append(std::move(settled), &answer_);
  }

  ledger::Ledger& ledger_;
  const v1::ImportRowsRequest& request_;
  const std::string& principal_;
  v1::ImportRowsResponse answer_;
  std::set<std::string> ids_;
  std::set<std::string> received_;  // units of this part
  std::deque<std::shared_ptr<Chunk>> under_way_;
  std::atomic<bool> failed_ = false;
};

}  // namespace

absl::StatusOr<v1::ImportRowsResponse> Intake::ImportFacts(const v1::ImportRowsRequest& request,
                                                           const std::string& principal) {
  const auto book = ledger_.Book();
  const int64_t now_us = ledger_.clock().NowMicros();
  const depot::Rules& rules = book->At(now_us);
  auto part = CutPart(request, rules.settings());
  if (!part.ok()) return part.status();
  const exchange::RowOptions options{&part->mapping, &rules, ZoneOfRows(part->sender, rules),
                                     now_us};
  FactImport import(ledger_, request, principal);
  absl::Status taken = import.Run(*part, options);
  if (!taken.ok()) return taken;
  return import.TakeAnswer();
}

}  // namespace ferrule::intake
