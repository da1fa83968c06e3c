// One group of entries: loaded, decided, written. Lives inside one write transaction; nothing it
// knows is visible to anyone before that commits.
#pragma once

#include <cstdint>
#include <memory>
#include <string>
#include <utility>
#include <vector>

#include "absl/container/flat_hash_map.h"
#include "absl/status/status.h"
#include "absl/status/statusor.h"
#include "core/depot/settings_book.h"
#include "core/fact/fact_view.h"
#include "core/fold/spans.h"
#include "core/ledger/history.h"
#include "core/ledger/prepared.h"
#include "core/ledger/state_cache.h"
#include "core/store/connection.h"
#include "ferrule/v1/ledger_service.pb.h"
#include "ferrule/v1/states.pb.h"

namespace ferrule::ledger {

// The ledger's head row.
struct HeadRow {
  int64_t sequence = 0;
  int64_t recorded_us = 0;
  std::string digest;
  int64_t next_subject_id = 1;
  int64_t max_happened_us = INT64_MIN;
  std::string epoch;
  std::string label;
};

absl::StatusOr<HeadRow> ReadHead(store::Connection& connection);

// One entry of the group and what becomes of it.
struct Item {
  const Prepared* prepared = nullptr;
  const std::string* principal = nullptr;
  bool validate_only = false;
  absl::StatusOr<v1::Receipt> outcome = absl::UnknownError("not decided");
};

class Group {
 public:
  // `now_us` is the ledger's clock; known time never falls below the head's.
  Group(store::Connection& writer, const StateCache& cache,
        std::shared_ptr<const depot::SettingsBook> book, HeadRow head, int64_t now_us);

  // Decides the items in their order. On error the transaction must be rolled back.
  absl::Status Decide(std::vector<Item>& items);
  // Writes what was decided. On error the transaction must be rolled back.
  absl::Status Write();

  // After the commit: the new head, the new settings (null when unchanged), the changed states.
  const HeadRow& head() const { return head_; }
  std::shared_ptr<const depot::SettingsBook> new_book() const { return new_book_; }
  // Whether a change of the settings reaches back before a recorded fact, so that every state has
  // to be folded again in this transaction.
  bool must_refold_all() const { return refold_all_; }
  std::vector<std::pair<std::string, Known>> TakeChangedStates();

 private:
  using StatePtr = std::shared_ptr<const v1::SubjectState>;

  // A fact decided in this group but not yet in the store.
  struct Pending {
    const Prepared* prepared;
    int index;
    int64_t sequence;
  };
  struct Working {
    int64_t id = 0;        // 0: not in the store yet
    StatePtr committed;    // null: not in the store
    StatePtr current;      // null: nothing known of the subject
    int64_t sequence = 0;  // of the last entry of this group that changed it
    std::vector<Pending> pending;
    fold::SpanChanges spans;          // of this group
    std::unique_ptr<History> stored;  // its facts in the store, once they were needed
  };
  struct Accepted {
    const Prepared* prepared;
    std::string bytes;
    std::string digest;
    std::string receipt;  // serialized when it holds questions, else empty
    int64_t sequence;
  };
  struct Refused {
    const Prepared* prepared;
    std::string remembered;
  };
  // What became of an entry id before this group, as it is said again.
  struct Earlier {
    bool same_content;
    absl::StatusOr<v1::Receipt> outcome;
  };
  // A subject as one entry changes it.
  struct Touched {
    const std::string* name;
    std::shared_ptr<v1::SubjectState> state;
    std::vector<int> fact_indexes;
    std::vector<v1::Finding> answered_in_vain;  // of this entry's answers
    std::vector<fold::Span> open;               // of the state as it stands
    fold::SpanChanges spans;                    // of this entry
  };

  absl::Status LoadStates(const std::vector<Item>& items);
  absl::Status LoadEarlier(const std::vector<Item>& items);
  // What a row of kEarlier says of an entry; false when it cannot be read.
  bool SeeEntry(const Prepared& prepared, const store::Row& row);
  bool SeeRefusal(const Prepared& prepared, const store::Row& row);
  // The outcome of an id seen before, in the store or in this group; false when it is new.
  bool AnswerRepeat(Item& item);
  std::vector<std::string> LooksLate(const std::vector<Item>& items) const;
  // Of subjects that are in the store.
  absl::Status LoadHistories(const std::vector<std::string>& names);
  absl::Status DecideItem(Item& item);
  absl::StatusOr<std::vector<Touched>> ApplyEntry(const Prepared& prepared);
  absl::Status FoldAgain(const Prepared& prepared, Touched& touched);
  std::vector<v1::Finding> NewQuestions(const std::vector<Touched>& touched) const;
  void AddAnswersInVain(const std::vector<Touched>& touched, std::vector<v1::Finding>* out) const;
  void Refuse(Item& item, std::vector<v1::Finding> findings);
  void Accept(Item& item, std::vector<Touched> touched, std::vector<v1::Finding> questions);
  void ChangeBook(const v1::SubjectState& settings_state);

  absl::Status WriteEntries();
  absl::Status WriteFactSubjects();
  absl::Status WriteStates();
  absl::Status WriteSpans();
  absl::Status WriteRefusals();

  store::Connection& writer_;
  const StateCache& cache_;
  std::shared_ptr<const depot::SettingsBook> book_;
  std::shared_ptr<const depot::SettingsBook> new_book_;
  HeadRow head_;
  const int64_t recorded_us_;
  bool refold_all_ = false;

  absl::flat_hash_map<std::string, Working> working_;
  // By entry id: what the store knows, and what this group decided. The items are the caller's.
  absl::flat_hash_map<std::string, Earlier> earlier_;
  absl::flat_hash_map<absl::string_view, const Item*> decided_;
  std::vector<Accepted> accepted_;
  std::vector<Refused> refused_;
};

}  // namespace ferrule::ledger
