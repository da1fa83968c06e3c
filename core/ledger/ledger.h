// The door. Entries go in here and nowhere else: checked, decided by the folds, appended, chained
// and committed in groups; only then answered.
#pragma once

#include <cstdint>
#include <functional>
#include <memory>
#include <string>
#include <string_view>
#include <vector>

#include "absl/functional/function_ref.h"
#include "absl/status/status.h"
#include "absl/status/statusor.h"
#include "core/depot/settings_book.h"
#include "core/fold/columns.h"
#include "core/store/connection.h"
#include "core/time/clock.h"
#include "ferrule/v1/ledger_service.pb.h"
#include "ferrule/v1/states.pb.h"

namespace ferrule::ledger {

using StatePtr = std::shared_ptr<const v1::SubjectState>;

struct Head {
  int64_t sequence = 0;     // of the last entry, 0 for an empty ledger
  std::string digest;       // 32 bytes; empty for an empty ledger
  int64_t recorded_us = 0;  // known time of the last entry
};

// A recorded entry as the readers see it.
struct Recorded {
  int64_t sequence = 0;
  int64_t recorded_us = 0;
  std::string_view bytes;  // serialized v1::LedgerEntry, valid during the callback
  std::string_view digest;
};

struct Options {
  size_t group_max = 512;          // entries decided in one commit
  size_t cached_states = 400'000;  // states kept in memory
  int readers = 2;                 // reading connections
  std::string label;               // put on an empty ledger, for instance "synthetic"
  // Called from the writer's thread when a commit failed so that nobody knows whether it holds
  // (a sync error). The process should end: sending the same entries again settles it.
  std::function<void(const absl::Status&)> on_commit_unknown;
  // Called from the writer's thread when the disk failed while commits were moved from the log into
  // the file. The process should end: the log has them, and grows until the depot is opened anew.
  std::function<void(const absl::Status&)> on_checkpoint_failed;
  // Called from the writer's thread when the store has another ledger than before, or an older copy
  // of it: somebody put a backup back, or a copy that lagged took over. The process should end.
  // Without it the ledger forgets what it knew and goes on with what is stored.
  std::function<void(const absl::Status&)> on_replaced;
  // Called from the writer's thread to answer the callers of a group all at once; runs what it is
  // given. For whoever has something to save by knowing that several answers follow each other.
  std::function<void(absl::FunctionRef<void()>)> around_answers;
};

// Thread-safe.
class Ledger {
 public:
  using RecordFn = std::function<void(absl::StatusOr<v1::Receipt>)>;
  using BatchFn = std::function<void(std::vector<absl::StatusOr<v1::Receipt>>)>;

  // Opens a store whose schema is the program's. The clock must outlive the ledger.
  static absl::StatusOr<std::unique_ptr<Ledger>> Open(std::unique_ptr<store::Database> database,
                                                      const time::Clock* clock, Options options);
  // Finishes what was accepted, then closes. Entries not yet begun get Unavailable.
  virtual ~Ledger() = default;

  // Records one entry; `done` is called once, from the writer's thread, after the commit.
  // InvalidArgument: malformed, or an id used with other content (nothing kept).
  // FailedPrecondition or NotFound with a v1::Refusal payload: refused by rules (remembered under
  // the entry id). Unavailable, Aborted, ResourceExhausted: not recorded as far as is known; send
  // the same entry again.
  virtual void Record(v1::Entry entry, std::string principal, bool validate_only,
                      RecordFn done) = 0;
  // Records entries in their order, each decided after those before it.
  virtual void RecordBatch(std::vector<v1::Entry> entries, std::string principal, BatchFn done) = 0;
  // Records entries, perhaps none, together with rows that another room keeps beside the ledger:
  // all of it or nothing. `beside` is called inside the writing transaction, from the writer's
  // thread, once the entries are decided; it touches the room's own tables alone, and an error of
  // its own fails the whole group, so it returns only the store's. It may be called again after a
  // conflict.
  using BesideFn = std::function<absl::Status(store::Connection&,
                                              const std::vector<absl::StatusOr<v1::Receipt>>&)>;
  // `done` is called once, from the writer's thread: `stored` says whether all of it is kept, the
  // outcomes what became of each entry (one that is refused leaves the rest as it is).
  using BesideDoneFn =
      std::function<void(const absl::Status& stored, std::vector<absl::StatusOr<v1::Receipt>>)>;
  virtual void RecordBeside(std::vector<v1::Entry> entries, std::string principal, BesideFn beside,
                            BesideDoneFn done) = 0;
  // The same, waiting.
  absl::StatusOr<v1::Receipt> RecordAndWait(v1::Entry entry, std::string principal = "");

  // The committed state of a subject; NotFound when no fact names it.
  virtual absl::StatusOr<StatePtr> Get(std::string_view subject_name) = 0;
  // The state that the facts recorded by `known_us` give.
  virtual absl::StatusOr<StatePtr> GetKnownAt(std::string_view subject_name, int64_t known_us) = 0;
  // The settings now, and as known then.
  virtual std::shared_ptr<const depot::SettingsBook> Book() = 0;
  virtual absl::StatusOr<std::shared_ptr<const depot::SettingsBook>> BookKnownAt(
      int64_t known_us) = 0;

  // Every subject as the facts recorded by `known_us` give it, with the columns that follow: the
  // whole ledger is folded for it.
  virtual absl::Status EachKnownAt(
      int64_t known_us,
      absl::FunctionRef<void(const v1::SubjectState&, const fold::Columns&)> on_subject) = 0;

  virtual Head head() = 0;
  // Entries after a position in commit order, until the callback says false or there are no more.
  // `subject_name` empty for all.
  virtual absl::Status Read(int64_t after_sequence, std::string_view subject_name,
                            absl::FunctionRef<bool(const Recorded&)> on_entry) = 0;
  // Called from the writer's thread after each commit with the new head; returns a handle that
  // unsubscribes when destroyed.
  virtual std::shared_ptr<void> Subscribe(std::function<void(int64_t head_sequence)> on_commit) = 0;

  // Runs a query on a reading connection, inside one snapshot.
  virtual absl::Status WithReader(absl::FunctionRef<absl::Status(store::Connection&)> query) = 0;

  virtual const time::Clock& clock() const = 0;
  virtual std::string engine() const = 0;  // "sqlite 3.40.1"
  virtual std::string label() const = 0;   // "synthetic" for generated data, empty for real
};

// The v1::Refusal of a status that a rule gave; null otherwise.
absl::StatusOr<v1::Refusal> RefusalOf(const absl::Status& status);

// What verify found; `ok` when nothing.
struct VerifyReport {
  int64_t entries = 0;
  int64_t facts = 0;
  int64_t states = 0;
  // The first entry whose bytes, digest or position is wrong, 0 when none; and what is wrong.
  int64_t first_broken_sequence = 0;
  std::string broken;
  // What follows from the facts and is stored otherwise, at most 20: each names a subject whose
  // state, columns or intervals are not the fold of its facts, an entry that is not filed under its
  // id, or an index.
  std::vector<std::string> differing_states;
  bool ok() const { return first_broken_sequence == 0 && differing_states.empty(); }
};

// Recomputes the chain and folds every state again. `progress` gets the entries done.
absl::StatusOr<VerifyReport> Verify(store::Database& database,
                                    const std::function<void(int64_t)>& progress);

// Writes every state anew from the facts, and files entries under their ids that are not, in one
// transaction. Returns the number of facts folded.
absl::StatusOr<int64_t> Rebuild(store::Database& database,
                                const std::function<void(int64_t)>& progress);

}  // namespace ferrule::ledger
