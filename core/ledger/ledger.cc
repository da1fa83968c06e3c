#include "core/ledger/ledger.h"

#include <future>
#include <list>
#include <mutex>
#include <utility>

#include "absl/strings/str_cat.h"
#include "core/fact/subject.h"
#include "core/fold/fold.h"
#include "core/ledger/chain_check.h"
#include "core/ledger/history.h"
#include "core/ledger/queries.h"
#include "core/ledger/reader_pool.h"
#include "core/ledger/refold.h"
#include "core/ledger/state_cache.h"
#include "core/ledger/writer.h"
#include "core/store/migrate.h"

namespace ferrule::ledger {
namespace {

using store::Value;

constexpr int kReadPage = 500;  // entries a statement

absl::Status UnknownSubject(std::string_view name) {
  return absl::NotFoundError(absl::StrCat("nothing is recorded about ", std::string(name),
                                          "; check the number, or list what there is"));
}

class Subscribers {
 public:
  using Fn = std::function<void(int64_t)>;

  static std::shared_ptr<void> Add(const std::shared_ptr<Subscribers>& self, Fn fn) {
    std::lock_guard lock(self->mutex_);
    auto it = self->list_.insert(self->list_.end(), std::move(fn));
    return std::shared_ptr<void>(nullptr, [self, it](void*) {
      std::lock_guard inner(self->mutex_);
      self->list_.erase(it);
    });
  }
  void Tell(int64_t head) {
    std::lock_guard lock(mutex_);
    for (const Fn& fn : list_) fn(head);
  }

 private:
  std::mutex mutex_;
  std::list<Fn> list_;
};

class LedgerImpl : public Ledger {
 public:
  LedgerImpl(std::unique_ptr<store::Database> database, const time::Clock* clock, Options options)
      : database_(std::move(database)),
        clock_(*clock),
        options_(std::move(options)),
        cache_(options_.cached_states),
        readers_(*database_, options_.readers) {}

  absl::Status Start() {
    auto connection = database_->OpenWriter();
    if (!connection.ok()) return connection.status();
    absl::Status status = store::CheckSchema(**connection);
    if (status.ok()) status = CheckTail(**connection);
    if (!status.ok()) return status;
    engine_ =
        absl::StrCat(std::string((*connection)->engine()), " ", (*connection)->engine_version());
    status = PutLabel(**connection);
    if (!status.ok()) return status;
    writer_ =
        std::make_unique<Writer>(*database_, *std::move(connection), clock_, options_, cache_,
                                 present_, [this](int64_t head) { subscribers_->Tell(head); });
    return writer_->Start();
  }

  void Record(v1::Entry entry, std::string principal, bool validate_only, RecordFn done) override {
    Writer::Task task;
    task.entries.push_back(Prepare(std::move(entry)));
    if (!task.entries[0].malformed.ok()) {
      done(std::move(task.entries[0].malformed));
      return;
    }
    task.principal = std::move(principal);
    task.validate_only = validate_only;
    task.done = [done = std::move(done)](std::vector<absl::StatusOr<v1::Receipt>> outcomes) {
      done(std::move(outcomes[0]));
    };
    writer_->Enqueue(std::move(task));
  }

  void RecordBatch(std::vector<v1::Entry> entries, std::string principal, BatchFn done) override {
    Writer::Task task;
    for (v1::Entry& entry : entries) task.entries.push_back(Prepare(std::move(entry)));
    task.principal = std::move(principal);
    task.done = std::move(done);
    writer_->Enqueue(std::move(task));
  }

  void RecordBeside(std::vector<v1::Entry> entries, std::string principal, BesideFn beside,
                    BesideDoneFn done) override {
    Writer::Task task;
    for (v1::Entry& entry : entries) task.entries.push_back(Prepare(std::move(entry)));
    task.principal = std::move(principal);
    task.beside = std::move(beside);
    task.beside_done = std::move(done);
    writer_->Enqueue(std::move(task));
  }

  absl::StatusOr<StatePtr> Get(std::string_view name) override {
    // Only the process that alone writes may trust its memory.
    if (database_->exclusive()) {
      if (std::optional<Known> known = cache_.Find(name)) return known->state;
    }
    const uint64_t generation = cache_.generation();
    Known known;
    absl::Status status = readers_.WithOneStatement(
        [&](store::Connection& connection) { return FindState(connection, name, &known); });
    if (!status.ok()) return status;
    if (known.state == nullptr) return UnknownSubject(name);
    if (database_->exclusive()) cache_.PutIfUnchanged(generation, name, known);
    return known.state;
  }

  absl::StatusOr<StatePtr> GetKnownAt(std::string_view name, int64_t known_us) override {
    auto book = BookKnownAt(known_us);
    if (!book.ok()) return book.status();
    return FoldKnownAt(name, known_us, **book);
  }

  std::shared_ptr<const depot::SettingsBook> Book() override { return present_.book(); }

  absl::StatusOr<std::shared_ptr<const depot::SettingsBook>> BookKnownAt(
      int64_t known_us) override {
    auto state = FoldKnownAt(fact::kSettingsName, known_us, depot::SettingsBook());
    if (absl::IsNotFound(state.status())) return std::make_shared<const depot::SettingsBook>();
    if (!state.ok()) return state.status();
    return std::make_shared<const depot::SettingsBook>(fold::BookOf(**state));
  }

  absl::Status EachKnownAt(
      int64_t known_us,
      absl::FunctionRef<void(const v1::SubjectState&, const fold::Columns&)> on_subject) override {
    return readers_.With([&](store::Connection& connection) -> absl::Status {
      absl::StatusOr<HeadRow> head = ReadHead(connection);
      if (!head.ok()) return head.status();
      auto through = SequenceKnownAt(connection, known_us, head->sequence);
      if (!through.ok()) return through.status();
      Refolder refolder;
      absl::Status status = refolder.Run(connection, *through, nullptr, nullptr);
      if (!status.ok()) return status;
      for (const Refolder::Slot& slot : refolder.slots()) {
        on_subject(*slot.state, fold::ColumnsOf(*slot.state, refolder.book()));
      }
      return absl::OkStatus();
    });
  }

  Head head() override { return present_.head(); }

  absl::Status Read(int64_t after_sequence, std::string_view subject_name,
                    absl::FunctionRef<bool(const Recorded&)> on_entry) override {
    return readers_.With([&](store::Connection& connection) {
      return ReadPages(connection, after_sequence, subject_name, on_entry);
    });
  }

  std::shared_ptr<void> Subscribe(std::function<void(int64_t)> on_commit) override {
    return Subscribers::Add(subscribers_, std::move(on_commit));
  }

  absl::Status WithReader(absl::FunctionRef<absl::Status(store::Connection&)> query) override {
    return readers_.With(query);
  }

  const time::Clock& clock() const override { return clock_; }
  std::string engine() const override { return engine_; }
  std::string label() const override { return label_; }

 private:
  absl::Status PutLabel(store::Connection& writer) {
    absl::StatusOr<HeadRow> head = ReadHead(writer);
    if (!head.ok()) return head.status();
    label_ = head->label;
    if (options_.label.empty() || head->sequence != 0) return absl::OkStatus();
    label_ = options_.label;
    const Value parameters[] = {Value::Text(label_)};
    return writer.Run(sql::kPutLabel, parameters);
  }

  static absl::Status FindState(store::Connection& connection, std::string_view name,
                                Known* known) {
    bool readable = true;
    const Value parameters[] = {Value::Text(name)};
    absl::Status status = connection.Run(sql::kStateByName, parameters, [&](const store::Row& row) {
      auto state = std::make_shared<v1::SubjectState>();
      std::string_view bytes = row.Bytes(1);
      readable = state->ParseFromArray(bytes.data(), static_cast<int>(bytes.size()));
      known->id = row.Int(0);
      known->state = std::move(state);
    });
    if (status.ok() && !readable) {
      return absl::DataLossError("a stored state cannot be read; run: ferruled rebuild");
    }
    return status;
  }

  absl::StatusOr<StatePtr> FoldKnownAt(std::string_view name, int64_t known_us,
                                       const depot::SettingsBook& book) {
    StatePtr out;
    absl::Status status = readers_.With([&](store::Connection& connection) -> absl::Status {
      Known known;
      absl::Status found = FindState(connection, name, &known);
      if (!found.ok()) return found;
      if (known.state == nullptr) return UnknownSubject(name);
      absl::StatusOr<HeadRow> head = ReadHead(connection);
      if (!head.ok()) return head.status();
      auto through = SequenceKnownAt(connection, known_us, head->sequence);
      if (!through.ok()) return through.status();
      History history;
      absl::Status loaded = history.Load(connection, known.id, *through);
      if (!loaded.ok()) return loaded;
      if (history.views().empty()) {
        return absl::NotFoundError(
            absl::StrCat("nothing was recorded about ", std::string(name), " by that time"));
      }
      out = std::make_shared<const v1::SubjectState>(fold::Fold(name, history.views(), book));
      return absl::OkStatus();
    });
    if (!status.ok()) return status;
    return out;
  }

  static absl::Status ReadPages(store::Connection& connection, int64_t after,
                                std::string_view subject_name,
                                absl::FunctionRef<bool(const Recorded&)> on_entry) {
    bool more = true;
    while (more) {
      int rows = 0;
      auto on_row = [&](const store::Row& row) {
        ++rows;
        if (!more) return;
        after = row.Int(0);
        more = on_entry({row.Int(0), row.Int(1), row.Bytes(2), row.Bytes(3)});
      };
      absl::Status status;
      if (subject_name.empty()) {
        const Value parameters[] = {Value::Int(after), Value::Int(kReadPage)};
        status = connection.Run(sql::kEntriesAfter, parameters, on_row);
      } else {
        const Value parameters[] = {Value::Text(subject_name), Value::Int(after),
                                    Value::Int(kReadPage)};
        status = connection.Run(sql::kEntriesOfSubjectAfter, parameters, on_row);
      }
      if (!status.ok()) return status;
      if (rows < kReadPage) more = false;
    }
    return absl::OkStatus();
  }

  // Declared in the order in which they must outlive each other: the writer's thread goes first.
  std::unique_ptr<store::Database> database_;
  const time::Clock& clock_;
  const Options options_;
  StateCache cache_;
  Present present_;
  ReaderPool readers_;
  std::shared_ptr<Subscribers> subscribers_ = std::make_shared<Subscribers>();
  std::string engine_;
  std::string label_;
  std::unique_ptr<Writer> writer_;
};

}  // namespace

absl::StatusOr<v1::Receipt> Ledger::RecordAndWait(v1::Entry entry, std::string principal) {
  std::promise<absl::StatusOr<v1::Receipt>> promise;
  auto future = promise.get_future();
  Record(
      std::move(entry), std::move(principal), false,
      [&promise](absl::StatusOr<v1::Receipt> outcome) { promise.set_value(std::move(outcome)); });
  return future.get();
}

absl::StatusOr<std::unique_ptr<Ledger>> Ledger::Open(std::unique_ptr<store::Database> database,
                                                     const time::Clock* clock, Options options) {
  auto ledger = std::make_unique<LedgerImpl>(std::move(database), clock, std::move(options));
  absl::Status status = ledger->Start();
  if (!status.ok()) return status;
  return ledger;
}

}  // namespace ferrule::ledger
