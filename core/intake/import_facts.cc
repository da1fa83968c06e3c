// Rows of units, stock, readings and test results taken in. Each becomes an observed fact under an
// id made from what the row says, so that the same row again, in this file or in a corrected one,
// adds nothing; what the fact breaks becomes a question as always.
#include <algorithm>
#include <atomic>
#include <deque>
#include <future>
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
  v1::ImportRowsResponse answer;   // about the rows that are no facts
  v1::ImportRowsResponse settled;  // about all of them
  std::vector<v1::Entry> entries;
  std::vector<std::vector<int64_t>> lines;  // of each entry
  std::promise<absl::Status> stored;

  void SettleWith(const std::vector<absl::StatusOr<v1::Receipt>>& outcomes) {
    settled = answer;  // a group may be tried again
    for (size_t i = 0; i < outcomes.size(); ++i) CountOutcome(outcomes[i], lines[i], &settled);
  }
};

// A part of a file taken in: its rows are read while the facts of those before them are written.
class FactImport {
 public:
  FactImport(ledger::Ledger& ledger, const v1::ImportRowsRequest& request,
             const std::string& principal)
      : ledger_(ledger), request_(request), principal_(principal) {}
  ~FactImport() { Settle(0).IgnoreError(); }

  absl::StatusOr<v1::ImportRowsResponse> Run(const ImportPart& part,
                                             const exchange::RowOptions& options) {
    FactRows rows(request_.kind(), part, options);
    for (const exchange::CsvRecord& record : part.records) {
      // The last test may go on, hence one more.
      if (rows.fact_count() > kChunkFacts) {
        absl::Status sent = Send(rows.Take(false));
        if (!sent.ok()) return sent;
      }
      rows.Read(record);
    }
    ReadRows rest = rows.Take(request_.last());
    end_ = rest.left.value_or(EndOf(request_));
    absl::Status sent = Send(std::move(rest));
    if (sent.ok()) sent = Settle(0);
    if (!sent.ok()) return sent;
    return Answer();
  }

 private:
  absl::Status Send(ReadRows rows) {
    absl::Status room = Settle(kMostUnderWay - 1);
    if (!room.ok()) return room;
    Chunk& chunk = chunks_.emplace_back();
    for (v1::BadRow& row : rows.bad) *chunk.answer.add_bad_rows() = std::move(row);
    CountRows(chunk.answer.mutable_totals(), 0, 0, 0, chunk.answer.bad_rows_size());
    for (FactOfRows& fact : rows.facts) {
      absl::Status added = Add(std::move(fact), &chunk);
      if (!added.ok()) {
        chunks_.pop_back();
        return added;
      }
    }
    if (request_.validate_only()) {
      Check(chunk);
    } else {
      Write(chunk);
    }
    return absl::OkStatus();
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

  void Check(Chunk& chunk) {
    chunk.SettleWith(CheckAll(ledger_, std::move(chunk.entries)));
    chunk.stored.set_value(absl::OkStatus());
  }

  // Records the entries, and beside the last ones how far the file has come: who is cut off before
  // it is answered begins the part again, so that no bad row goes unreported. The same when an
  // earlier chunk could not be stored, though the last one can be.
  void Write(Chunk& chunk) {
    const bool is_last = end_.has_value();
    ledger_.RecordBeside(
        std::move(chunk.entries), principal_,
        [this, &chunk, is_last](store::Connection& connection, const auto& outcomes) {
          chunk.SettleWith(outcomes);
          if (!is_last || failed_) return absl::OkStatus();
          const std::string id =
              ImportId(request_.file_sha256(), request_.kind(), request_.sender());
          return PutImport(connection, id, ProgressOf(Answer(), ledger_.clock().NowMicros()));
        },
        [this, &chunk](const absl::Status& stored, const auto&) {
          if (!stored.ok()) failed_ = true;
          chunk.stored.set_value(stored);
        });
  }

  // Waits until at most so many chunks are under way.
  absl::Status Settle(size_t most) {
    absl::Status status;
    while (chunks_.size() - settled_ > most) {
      absl::Status stored = chunks_[settled_++].stored.get_future().get();
      if (status.ok()) status = std::move(stored);
    }
    return status;
  }

  // What became of all rows, in the order of their lines.
  v1::ImportRowsResponse Answer() const {
    v1::ImportRowsResponse answer;
    answer.set_next_offset_bytes(end_->offset);
    answer.set_next_line(end_->line);
    for (const Chunk& chunk : chunks_) {
      const v1::ImportTotals& totals = chunk.settled.totals();
      CountRows(answer.mutable_totals(), totals.accepted_count(), totals.repeated_count(),
                totals.queued_count(), totals.rejected_count());
      answer.mutable_bad_rows()->MergeFrom(chunk.settled.bad_rows());
    }
    std::stable_sort(answer.mutable_bad_rows()->begin(), answer.mutable_bad_rows()->end(),
                     [](const v1::BadRow& a, const v1::BadRow& b) { return a.line() < b.line(); });
    return answer;
  }

  ledger::Ledger& ledger_;
  const v1::ImportRowsRequest& request_;
  const std::string& principal_;
  std::set<std::string> ids_;
  std::set<std::string> received_;  // units of this part
  std::deque<Chunk> chunks_;
  size_t settled_ = 0;
  std::optional<RowPlace> end_;  // of what this part has come to, known before its last chunk
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
  return FactImport(ledger_, request, principal).Run(*part, options);
}

}  // namespace ferrule::intake
