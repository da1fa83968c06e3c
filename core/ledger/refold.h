// Every state folded again from the whole ledger: for verify, rebuild and settings that reach back.
#pragma once

#include <cstdint>
#include <deque>
#include <functional>
#include <string>
#include <string_view>
#include <vector>

#include "absl/container/flat_hash_map.h"
#include "absl/status/status.h"
#include "absl/status/statusor.h"
#include "absl/strings/string_view.h"
#include "core/depot/settings_book.h"
#include "core/fold/columns.h"
#include "core/ledger/pages.h"
#include "core/store/connection.h"
#include "ferrule/v1/states.pb.h"
#include "google/protobuf/arena.h"

namespace ferrule::ledger {

// Gathers the facts of each subject and folds each subject once, so that the order of arrival costs
// nothing. While it works it holds the ledger's bytes in memory; entries are parsed once to find
// their subjects and once more for each of these, which costs less than the memory to keep them.
class Refolder {
 public:
  // Where a fact lies in the bytes that are held.
  struct Place {
    uint32_t page;
    uint32_t offset;
    uint32_t size;
    int32_t fact_index;
  };
  struct Slot {
    std::string name;
    int64_t id = 0;        // in the order of first appearance in the ledger, from 1
    int64_t sequence = 0;  // of the last entry that concerns it
    std::string state;     // as bytes: messages of all subjects would take several times the memory
    fold::Columns columns;
    std::string spans;         // packed (core/ledger/span_rows.h)
    std::vector<Place> facts;  // empty once it is folded
  };

  // Folds the entries up to `through_sequence`, the settings first. `on_raw` sees every row in
  // order, from another thread than the caller's, and may stop the work with an error; `progress`
  // gets the last sequence now and then.
  absl::Status Run(store::Connection& connection, int64_t through_sequence,
                   const std::function<absl::Status(const RawEntry&)>& on_raw,
                   const std::function<void(int64_t)>& progress);

  int64_t fact_count() const { return fact_count_; }
  const depot::SettingsBook& book() const { return book_; }
  // In the order of their ids.
  const std::deque<Slot>& slots() const { return slots_; }
  const Slot* Find(std::string_view name) const;
  // The entries that are not filed under the keys of their ids, in their order.
  const std::vector<Page::Misfiled>& misfiled() const { return misfiled_; }
  // A sum over the rows that fact_subjects must have.
  uint64_t fact_subject_sum() const { return fact_subject_sum_; }
  int64_t fact_subject_count() const { return fact_subject_count_; }
  static uint64_t MixRow(int64_t subject_id, int64_t sequence, int64_t index, int64_t kind);

 private:
  void Gather(Page& page);
  void GatherEntry(const v1::LedgerEntry& entry, Place place);
  Slot& SlotOf(std::string name);
  // Folds the slot; the state lies on the arena with the entries that it was folded from.
  const v1::SubjectState& FoldSlot(Slot* slot, google::protobuf::Arena* arena) const;

  std::vector<std::string> pages_;  // bytes of entries, until all is folded
  std::deque<Slot> slots_;
  absl::flat_hash_map<absl::string_view, Slot*> by_name_;
  depot::SettingsBook book_;
  std::vector<Page::Misfiled> misfiled_;
  int64_t fact_count_ = 0;
  uint64_t fact_subject_sum_ = 0;
  int64_t fact_subject_count_ = 0;
};

struct Refolded {
  int64_t facts = 0;
  std::vector<Page::Misfiled> misfiled;  // left as they are
};

// Folds every state again and writes it, inside the caller's write transaction. The entries' rows
// are not touched.
absl::StatusOr<Refolded> RefoldInTransaction(store::Connection& writer,
                                             const std::function<void(int64_t)>& progress);

}  // namespace ferrule::ledger
