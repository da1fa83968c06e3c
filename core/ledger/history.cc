#include "core/ledger/history.h"

#include <algorithm>

#include "absl/strings/str_cat.h"
#include "core/ledger/prepared.h"
#include "core/ledger/queries.h"
#include "core/time/civil.h"

namespace ferrule::ledger {

using store::Value;

namespace {

absl::Status Outcome(const absl::Status& read, int64_t broken_sequence) {
  if (!read.ok() || broken_sequence == 0) return read;
  return absl::DataLossError(absl::StrCat("entry ", broken_sequence,
                                          " of the ledger cannot be read; run: ferruled verify"));
}

}  // namespace

absl::Status History::Load(store::Connection& connection, int64_t subject_id,
                           int64_t through_sequence) {
  const Value parameters[] = {Value::Int(subject_id), Value::Int(through_sequence)};
  int64_t broken = 0;
  const absl::Status read =
      connection.Run(sql::kEntryFacts, parameters, [&](const store::Row& row) {
        if (!Add(row)) broken = row.Int(0);
      });
  return Outcome(read, broken);
}

absl::Status History::Load(store::Connection& connection, std::span<const int64_t> subject_ids,
                           int64_t through_sequence, std::span<History* const> histories) {
  std::vector<Value> parameters;
  for (const int64_t id : subject_ids) {
    parameters.push_back(Value::Int(id));
    parameters.push_back(Value::Int(through_sequence));
  }
  int64_t broken = 0;
  const absl::Status read =
      connection.RunMany(sql::kEntryFacts, 2, parameters, [&](size_t which, const store::Row& row) {
        if (!histories[which]->Add(row)) broken = row.Int(0);
      });
  return Outcome(read, broken);
}

bool History::Add(const store::Row& row) {
  const int64_t sequence = row.Int(0);
  if (entries_.empty() || entries_.back()->sequence() != sequence) {
    std::string_view bytes = row.Bytes(1);
    auto* entry = google::protobuf::Arena::CreateMessage<v1::LedgerEntry>(arena_.get());
    if (!entry->ParseFromArray(bytes.data(), static_cast<int>(bytes.size())) ||
        entry->sequence() != sequence) {
      return false;
    }
    entries_.push_back(entry);
  }
  const v1::LedgerEntry& entry = *entries_.back();
  const int index = static_cast<int>(row.Int(2));
  if (index >= entry.entry().facts_size()) return false;
  views_.push_back(ViewOf(entry.entry(), index, time::ToMicros(entry.recorded_time()), sequence));
  return true;
}

const v1::LedgerEntry& History::EntryOf(const fact::FactView& view) const {
  return **std::lower_bound(
      entries_.begin(), entries_.end(), view.sequence,
      [](const v1::LedgerEntry* e, int64_t sequence) { return e->sequence() < sequence; });
}

absl::StatusOr<int64_t> SequenceKnownAt(store::Connection& connection, int64_t known_us,
                                        int64_t head_sequence) {
  // Known times never fall along the sequence, so this is a binary search.
  int64_t low = 0;
  int64_t high = head_sequence;
  while (low < high) {
    const int64_t middle = low + (high - low + 1) / 2;
    int64_t recorded_us = 0;
    const Value parameters[] = {Value::Int(middle)};
    absl::Status status = connection.Run(sql::kRecordedAt, parameters,
                                         [&](const store::Row& row) { recorded_us = row.Int(0); });
    if (!status.ok()) return status;
    if (recorded_us <= known_us) {
      low = middle;
    } else {
      high = middle - 1;
    }
  }
  return low;
}

}  // namespace ferrule::ledger
