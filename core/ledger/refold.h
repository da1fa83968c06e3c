// Every state folded again from the whole ledger: for verify, rebuild and settings that reach back.
#pragma once

#include <cstdint>
#include <functional>
#include <memory>
#include <string>
#include <vector>

#include "absl/container/flat_hash_map.h"
#include "absl/status/status.h"
#include "absl/status/statusor.h"
#include "core/depot/settings_book.h"
#include "core/store/connection.h"
#include "ferrule/v1/ledger_service.pb.h"
#include "ferrule/v1/states.pb.h"

namespace ferrule::ledger {

// A stored row of the ledger, as read.
struct RawEntry {
  int64_t sequence;
  int64_t recorded_us;
  std::string bytes;
  std::string digest;
};

class Refolder {
 public:
  struct Slot {
    int64_t id = 0;        // in the order of first appearance in the ledger
    int64_t sequence = 0;  // of the last entry that concerns it
    bool late = false;     // facts did not come in the order of true time
    std::shared_ptr<v1::SubjectState> state;
  };

  // Folds the entries up to `through_sequence`. With `book` null the settings are folded first.
  // `on_raw` sees every row in order, from another thread than the caller's, and may stop the
  // work with an error; `progress` gets the last sequence now and then.
  absl::Status Run(store::Connection& connection, const depot::SettingsBook* book,
                   int64_t through_sequence,
                   const std::function<absl::Status(const RawEntry&)>& on_raw,
                   const std::function<void(int64_t)>& progress);

  int64_t fact_count() const { return fact_count_; }
  int64_t entry_count() const { return entry_count_; }
  const depot::SettingsBook& book() const { return *book_; }
  const absl::flat_hash_map<std::string, Slot>& slots() const { return slots_; }
  // A sum over the rows that fact_subjects must have.
  uint64_t fact_subject_sum() const { return fact_subject_sum_; }
  int64_t fact_subject_count() const { return fact_subject_count_; }
  static uint64_t MixRow(int64_t subject_id, int64_t sequence, int64_t index, int64_t kind);

 private:
  absl::Status FoldSettings(store::Connection& connection, int64_t through_sequence);
  void Add(const v1::LedgerEntry& entry);
  absl::Status FoldLate(store::Connection& connection, int64_t through_sequence);

  absl::flat_hash_map<std::string, Slot> slots_;
  std::unique_ptr<depot::SettingsBook> own_book_;
  const depot::SettingsBook* book_ = nullptr;
  int64_t next_id_ = 1;
  int64_t fact_count_ = 0;
  int64_t entry_count_ = 0;
  uint64_t fact_subject_sum_ = 0;
  int64_t fact_subject_count_ = 0;
};

// Folds every state again and writes it, inside the caller's write transaction. Returns the number
// of facts folded.
absl::StatusOr<int64_t> RefoldInTransaction(store::Connection& writer,
                                            const depot::SettingsBook* book,
                                            const std::function<void(int64_t)>& progress);

}  // namespace ferrule::ledger
