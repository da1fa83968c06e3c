// Rows of units, stock, readings and test results taken in. Each becomes an observed fact under an
// id made from what the row says, so that the same row again, in this file or in a corrected one,
// adds nothing; what the fact breaks becomes a question as always.
#include <algorithm>
#include <future>
#include <optional>
#include <set>
#include <utility>

#include "absl/strings/str_cat.h"
#include "core/fact/subject.h"
#include "core/fact/validate.h"
#include "core/intake/digest.h"
#include "core/intake/import_part.h"
#include "core/intake/intake.h"
#include "core/time/civil.h"

namespace ferrule::intake {
namespace {

using exchange::TroubleAt;

constexpr size_t kIdDigits = 40;

// The rows of one fact: the items of one test stand in rows of their own.
struct Rows {
  v1::Fact fact;
  std::vector<int64_t> lines;
  std::string text;  // what makes its id
};

bool Belongs(const Rows& rows, const v1::Fact& fact) {
  if (!fact.has_inspection_done() || !rows.fact.has_inspection_done()) return false;
  const v1::InspectionDone& a = rows.fact.inspection_done();
  const v1::InspectionDone& b = fact.inspection_done();
  return a.unit() == b.unit() && a.checklist() == b.checklist() && a.tester() == b.tester() &&
         a.checklist_version() == b.checklist_version() &&
         time::ToMicros(rows.fact.happened_time()) == time::ToMicros(fact.happened_time());
}

std::string TextOf(exchange::CsvValues values) {
  std::sort(values.begin(), values.end());
  std::string text;
  for (const auto& [field, value] : values) absl::StrAppend(&text, field, "=", value, "\n");
  return text;
}

absl::TimeZone ZoneOfRows(const v1::Sender* sender, const depot::Rules& rules) {
  if (sender != nullptr && !sender->time_zone().empty()) {
    if (const auto named = time::Zone(sender->time_zone()); named.ok()) return *named;
  }
  if (sender != nullptr && !sender->branch().empty()) return rules.ZoneOf(sender->branch());
  if (rules.settings().branches_size() == 0) return absl::UTCTimeZone();
  return rules.ZoneOf(rules.settings().branches(0).id());
}

// The rows of a part as facts.
class FactRows {
 public:
  FactRows(v1::ImportKind kind, const ImportPart& part, const exchange::RowOptions& options)
      : kind_(kind), part_(part), options_(options) {}

  void Read() {
    for (const exchange::CsvRecord& record : part_.records) Read(record);
  }

  // The last test of a part may go on in the next one: it is left there. Returns the line on which
  // it begins, 0 when nothing is left.
  int64_t LeaveLast() {
    if (kind_ != v1::IMPORT_KIND_TEST_RESULTS || groups_.size() < 2) return 0;
    const int64_t from = groups_.back().lines.front();
    groups_.pop_back();
    bad_.erase(std::remove_if(bad_.begin(), bad_.end(),
                              [from](const v1::BadRow& row) { return row.line() >= from; }),
               bad_.end());
    return from;
  }

  void Reject(const std::vector<int64_t>& lines, const v1::Trouble& trouble) {
    for (const int64_t line : lines) bad_.push_back(MakeBadRow(line, {trouble}));
  }

  std::vector<Rows>& groups() { return groups_; }
  std::vector<v1::BadRow>& bad() { return bad_; }

 private:
  void Read(const exchange::CsvRecord& record) {
    std::vector<v1::Trouble> troubles;
    if (!record.wrong.empty()) {
      return Reject({record.line},
                    TroubleAt(v1::TROUBLE_KIND_NOT_READABLE, "", record.wrong, "correct the row"));
    }
    const exchange::CsvValues values = exchange::ValuesOf(part_.layout, record.fields, &troubles);
    exchange::RowFact row;
    if (troubles.empty()) row = exchange::ReadRow(kind_, values, options_);
    for (v1::Trouble& trouble : row.troubles) troubles.push_back(std::move(trouble));
    if (!troubles.empty()) {
      bad_.push_back(MakeBadRow(record.line, std::move(troubles)));
      return;
    }
    if (!groups_.empty() && Belongs(groups_.back(), row.fact)) {
      return AddReading(record.line, row.fact.inspection_done().readings(0), TextOf(values));
    }
    groups_.push_back({std::move(row.fact), {record.line}, TextOf(values)});
  }

  void AddReading(int64_t line, const v1::Reading& reading, const std::string& text) {
    v1::InspectionDone& test = *groups_.back().fact.mutable_inspection_done();
    for (const v1::Reading& earlier : test.readings()) {
      if (earlier.item() != reading.item()) continue;
      return Reject({line}, TroubleAt(v1::TROUBLE_KIND_FIELD_INVALID, "item",
                                      "stands twice in one test", "give the last value alone"));
    }
    *test.add_readings() = reading;
    groups_.back().lines.push_back(line);
    absl::StrAppend(&groups_.back().text, "\n", text);
  }

  const v1::ImportKind kind_;
  const ImportPart& part_;
  const exchange::RowOptions& options_;
  std::vector<Rows> groups_;
  std::vector<v1::BadRow> bad_;
};

// What the records lack for a fact to mean anything; nothing when it is all there.
absl::StatusOr<std::optional<v1::Trouble>> LacksRecord(ledger::Ledger& ledger,
                                                       const v1::Entry& entry) {
  const v1::Fact& fact = entry.facts(0);
  std::optional<v1::Trouble> none;
  std::string unit;
  if (fact.has_unit_received()) unit = fact.unit_received().unit();
  if (fact.has_meter_read()) unit = fact.meter_read().unit();
  if (fact.has_inspection_done()) unit = fact.inspection_done().unit();
  if (unit.empty()) return none;
  auto state = ledger.Get(fact::SubjectName(fact::SubjectKind::kUnit, unit));
  if (!state.ok() && !absl::IsNotFound(state.status())) return state.status();
  const v1::Stamp* received =
      state.ok() && (*state)->unit().has_received() ? &(*state)->unit().received() : nullptr;
  if (fact.has_unit_received()) {
    if (received == nullptr || received->fact().entry_id() == entry.entry_id()) return none;
    return TroubleAt(v1::TROUBLE_KIND_REFUSED, "unit", "is a tag that is in use already",
                     "give the unit a tag of its own, or take the row out");
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
  FactRows rows(request.kind(), *part, options);
  rows.Read();
  const int64_t left = request.last() ? 0 : rows.LeaveLast();

  v1::ImportRowsResponse response;
  std::vector<v1::Entry> entries;
  std::vector<std::vector<int64_t>> lines;
  std::set<std::string> ids;
  for (Rows& group : rows.groups()) {
    v1::Entry entry;
    entry.set_entry_id(EntryId(request, group.text));
    entry.set_actor(request.actor());
    entry.set_channel("import");
    entry.set_mode(v1::ENTRY_MODE_OBSERVED);
    *entry.add_facts() = group.fact;
    const auto count = static_cast<int64_t>(group.lines.size());
    if (!ids.insert(entry.entry_id()).second) {
      CountRows(response.mutable_totals(), 0, count, 0, 0);
      continue;
    }
    auto lacks = LacksRecord(ledger_, entry);
    if (!lacks.ok()) return lacks.status();
    const auto violations = fact::Validate(entry);
    if (lacks->has_value()) {
      rows.Reject(group.lines, **lacks);
    } else if (!violations.empty()) {
      rows.Reject(group.lines, TroubleAt(v1::TROUBLE_KIND_REFUSED, violations[0].field,
                                         violations[0].description, "correct the row"));
    } else {
      entries.push_back(std::move(entry));
      lines.push_back(group.lines);
    }
  }
  const auto by_line = [](const v1::BadRow& a, const v1::BadRow& b) { return a.line() < b.line(); };
  std::sort(rows.bad().begin(), rows.bad().end(), by_line);
  for (v1::BadRow& row : rows.bad()) *response.add_bad_rows() = std::move(row);
  CountRows(response.mutable_totals(), 0, 0, 0, response.bad_rows_size());
  response.set_next_offset_bytes(request.offset_bytes() +
                                 static_cast<int64_t>(request.rows().size()));
  response.set_next_line(request.first_line() +
                         std::count(request.rows().begin(), request.rows().end(), '\n'));
  for (const exchange::CsvRecord& record : part->records) {
    if (left == 0 || record.line != left) continue;
    response.set_next_offset_bytes(record.offset);
    response.set_next_line(record.line);
  }
  return WriteFacts(request, std::move(entries), lines, principal, std::move(response));
}

// Records the rows' entries, and beside them how far the file has come. `lines` are those of each
// entry.
absl::StatusOr<v1::ImportRowsResponse> Intake::WriteFacts(
    const v1::ImportRowsRequest& request, std::vector<v1::Entry> entries,
    const std::vector<std::vector<int64_t>>& lines, const std::string& principal,
    v1::ImportRowsResponse response) {
  if (request.validate_only()) {
    const auto outcomes = CheckAll(ledger_, std::move(entries));
    for (size_t i = 0; i < lines.size(); ++i) CountOutcome(outcomes[i], lines[i], &response);
    return response;
  }
  const std::string id = ImportId(request.file_sha256(), request.kind(), request.sender());
  const v1::ImportRowsResponse before = response;
  std::vector<absl::StatusOr<v1::Receipt>> outcomes;
  absl::Status written = WriteBeside(
      std::move(entries), principal,
      [&](store::Connection& connection, const auto& results) {
        response = before;
        for (size_t i = 0; i < results.size(); ++i) CountOutcome(results[i], lines[i], &response);
        return PutImport(connection, id, ProgressOf(response));
      },
      &outcomes);
  if (!written.ok()) return written;
  return response;
}

}  // namespace ferrule::intake
