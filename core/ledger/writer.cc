#include "core/ledger/writer.h"

#include <algorithm>
#include <chrono>

#include "absl/strings/str_cat.h"
#include "core/fact/subject.h"
#include "core/fold/fold.h"
#include "core/ledger/queries.h"
#include "core/ledger/refold.h"

namespace ferrule::ledger {
namespace {

using store::Value;

constexpr int kMostTries = 50;            // of a group that another process gets in the way of
constexpr int kCheckpointPages = 16'000;  // 64 MiB of write-ahead log
constexpr int64_t kMostToCatchUp = 10'000;
constexpr std::chrono::milliseconds kPollOthers{100};
// Waiting for others takes a quarter of the last commit's time at most, and never longer than this.
constexpr int kPartOfCommit = 4;
// Of a caller, in times of what deciding its entry takes; as measured on the loopback interface.
constexpr int kWayOutAndBack = 3;
constexpr std::chrono::nanoseconds kMostPatience = std::chrono::milliseconds(2);

bool WorthAnotherTry(const absl::Status& status) {
  return status.code() == absl::StatusCode::kAborted ||
         status.code() == absl::StatusCode::kUnavailable;
}

// Whether a failed commit on a file may hold all the same, or a page of a failed checkpoint be
// lost. A full disk refuses before the commit mark is written; a sync error may come after it. On
// PostgreSQL the group is tried again, and finds what did hold.
bool MayHold(const absl::Status& commit) {
  return commit.code() != absl::StatusCode::kResourceExhausted && !WorthAnotherTry(commit);
}

bool AnyDecided(const std::vector<Item>& items) {
  return std::any_of(items.begin(), items.end(), [](const Item& i) { return i.outcome.ok(); });
}

// A commit whose answer was lost may hold. The next try finds its entries recorded, where the one
// before had put them: by this delivery, which is no repeat.
void TellOwn(const std::vector<Item>& tried, std::vector<Item>& items) {
  for (size_t i = 0; i < tried.size(); ++i) {
    const absl::StatusOr<v1::Receipt>& before = tried[i].outcome;
    absl::StatusOr<v1::Receipt>& now = items[i].outcome;
    if (before.ok() && now.ok() && before->digest() == now->digest()) {
      now->set_repeated(before->repeated());
    }
  }
}

}  // namespace

Head Present::head() const {
  std::lock_guard lock(mutex_);
  return head_;
}

std::shared_ptr<const depot::SettingsBook> Present::book() const {
  std::lock_guard lock(mutex_);
  return book_;
}

void Present::Set(const HeadRow& head, std::shared_ptr<const depot::SettingsBook> book) {
  std::lock_guard lock(mutex_);
  head_.sequence = head.sequence;
  head_.digest = head.digest;
  head_.recorded_us = head.recorded_us;
  if (book != nullptr) book_ = std::move(book);
}

Writer::Writer(store::Database& database, std::unique_ptr<store::Connection> connection,
               const time::Clock& clock, const Options& options, StateCache& cache,
               Present& present, std::function<void(int64_t)> on_commit)
    : database_(database),
      connection_(std::move(connection)),
      clock_(clock),
      options_(options),
      cache_(cache),
      present_(present),
      on_commit_(std::move(on_commit)) {}

Writer::~Writer() {
  {
    std::lock_guard lock(mutex_);
    stopping_ = true;
  }
  wake_.notify_all();
  if (thread_.joinable()) thread_.join();
  for (Task& task : queue_) {
    std::vector<absl::StatusOr<v1::Receipt>> out(
        task.entries.size(),
        absl::UnavailableError("the service is shutting down; send the same entry again"));
    Answer(task, absl::UnavailableError("the service is shutting down; send the same entry again"),
           std::move(out));
  }
}

void Writer::Answer(Task& task, const absl::Status& stored,
                    std::vector<absl::StatusOr<v1::Receipt>> outcomes) {
  if (task.beside) {
    task.beside_done(stored, std::move(outcomes));
  } else {
    task.done(std::move(outcomes));
  }
}

absl::Status Writer::Start() {
  absl::StatusOr<HeadRow> head = ReadHead(*connection_);
  if (!head.ok()) return head.status();
  present_.Set(*head, nullptr);
  absl::Status status = LoadBook();
  if (!status.ok()) return status;
  thread_ = std::thread([this] { Loop(); });
  return absl::OkStatus();
}

void Writer::Enqueue(Task task) {
  {
    std::lock_guard lock(mutex_);
    if (!stopping_) {
      queue_.push_back(std::move(task));
      // Otherwise the thread is awake, or about to be, or waits for more.
      if (queue_.size() > 1 && queue_.size() != goal_) return;
    }
  }
  wake_.notify_one();
}

void Writer::Loop() {
  while (true) {
    std::vector<Task> tasks = NextTasks();
    if (tasks.empty()) {
      std::lock_guard lock(mutex_);
      if (stopping_) return;
      continue;
    }
    RunTasks(std::move(tasks));
  }
}

// Waits for work. Entries that touch the settings make a group of their own.
std::vector<Writer::Task> Writer::NextTasks() {
  std::vector<Task> tasks;
  std::unique_lock lock(mutex_);
  auto has_work = [this] { return stopping_ || !queue_.empty(); };
  if (database_.exclusive()) {
    wake_.wait(lock, has_work);
  } else if (!wake_.wait_for(lock, kPollOthers, has_work)) {
    lock.unlock();
    Idle();
    return tasks;
  }
  if (stopping_) return tasks;
  AwaitOthers(lock);
  size_t entries = 0;
  auto touches_settings = [](const Task& task) {
    return std::any_of(task.entries.begin(), task.entries.end(),
                       [](const Prepared& p) { return p.touches_settings; });
  };
  const size_t most = halves_ ? std::max<size_t>(goal_, 1) : queue_.size();
  while (!queue_.empty() && tasks.size() < most &&
         (tasks.empty() || entries < options_.group_max)) {
    const bool alone = touches_settings(queue_.front());
    if (alone && !tasks.empty()) break;
    entries += queue_.front().entries.size();
    tasks.push_back(std::move(queue_.front()));
    queue_.pop_front();
    if (alone) break;
  }
  return tasks;
}

// Callers who were answered together come back together. Waiting a moment for them saves a commit:
// else the first ones back make a small group, and all the others sit out its commit.
void Writer::AwaitOthers(std::unique_lock<std::mutex>& lock) {
  const auto patience = std::min(committing_ / kPartOfCommit, kMostPatience);
  wake_.wait_for(lock, patience, [this] { return stopping_ || queue_.size() >= goal_; });
}

// One group of all callers is best where the commit is what takes time. Otherwise they go in two
// halves: the callers of one are answered and come back while the other is decided and committed,
// and nobody stands still. That costs one commit more, and saves the way out and back of half the
// callers.
void Writer::SetGoal(size_t done) {
  const std::lock_guard lock(mutex_);
  const size_t callers = done + queue_.size();
  const auto deciding_half = deciding_ * (callers / 2) / std::max<size_t>(done, 1);
  halves_ = kWayOutAndBack * deciding_half > committing_;
  goal_ = halves_ ? (callers + 1) / 2 : callers;
}

std::vector<Item> Writer::ItemsOf(const std::vector<Task>& tasks) {
  std::vector<Item> items;
  for (const Task& task : tasks) {
    for (const Prepared& prepared : task.entries) {
      Item& item = items.emplace_back();
      item.prepared = &prepared;
      item.principal = &task.principal;
      item.validate_only = task.validate_only;
    }
  }
  return items;
}

void Writer::RunTasks(std::vector<Task> tasks) {
  std::vector<Item> items, tried;
  absl::Status status;
  for (int attempt = 0; attempt < kMostTries; ++attempt) {
    items = ItemsOf(tasks);
    status = TryGroup(tasks, items);
    if (status.ok()) TellOwn(tried, items);
    if (status.ok() || !WorthAnotherTry(status)) break;
    if (AnyDecided(items)) tried = std::move(items);
    std::this_thread::sleep_for(std::chrono::milliseconds(std::min(attempt, 20)));
  }
  SetGoal(tasks.size());
  auto answer = [&] {
    size_t next = 0;
    for (Task& task : tasks) {
      std::vector<absl::StatusOr<v1::Receipt>> out;
      for (size_t i = 0; i < task.entries.size(); ++i, ++next) {
        out.push_back(status.ok() ? std::move(items[next].outcome)
                                  : absl::StatusOr<v1::Receipt>(status));
      }
      Answer(task, status, std::move(out));
    }
  };
  options_.around_answers ? options_.around_answers(answer) : answer();
  if (status.ok()) Checkpoint();
}

// After the answers, which need not wait for it. Its error is not theirs: the entries are safe in
// the log.
void Writer::Checkpoint() {
  const absl::Status status = database_.Checkpoint(*connection_, kCheckpointPages);
  if (!status.ok() && MayHold(status) && options_.on_checkpoint_failed) {
    options_.on_checkpoint_failed(status);
  }
}

// What other rooms keep beside the entries of the group, in the same transaction.
absl::Status Writer::WriteBeside(const std::vector<Task>& tasks, const std::vector<Item>& items) {
  size_t next = 0;
  for (const Task& task : tasks) {
    const size_t first = next;
    next += task.entries.size();
    if (!task.beside) continue;
    std::vector<absl::StatusOr<v1::Receipt>> outcomes;
    for (size_t i = first; i < next; ++i) outcomes.push_back(items[i].outcome);
    absl::Status status = task.beside(*connection_, outcomes);
    if (!status.ok()) return status;
  }
  return absl::OkStatus();
}

absl::Status Writer::TryGroup(const std::vector<Task>& tasks, std::vector<Item>& items) {
  const auto begun = std::chrono::steady_clock::now();
  absl::Status status = connection_->Begin(store::TransactionKind::kWrite);
  if (!status.ok()) return status;
  auto give_up = [this](absl::Status why) {
    connection_->Rollback().IgnoreError();
    return why;
  };
  absl::StatusOr<HeadRow> head = ReadHead(*connection_);
  if (!head.ok()) return give_up(head.status());
  status = CatchUp(*head);
  if (!status.ok()) return give_up(status);
  Group group(*connection_, cache_, present_.book(), *head, clock_.NowMicros());
  if (!items.empty()) status = group.Decide(items);
  if (status.ok() && !items.empty()) status = group.Write();
  if (status.ok()) status = WriteBeside(tasks, items);
  if (status.ok() && group.must_refold_all()) status = RefoldAll();
  if (!status.ok()) return give_up(status);
  const auto decided = std::chrono::steady_clock::now();
  status = connection_->Commit();
  deciding_ = decided - begun;
  committing_ = std::chrono::steady_clock::now() - decided;
  if (!status.ok()) {
    cache_.Clear();
    if (database_.exclusive() && MayHold(status) && options_.on_commit_unknown) {
      options_.on_commit_unknown(status);
    }
    return give_up(status);
  }
  if (group.must_refold_all()) {
    cache_.Clear();
  } else {
    cache_.PutCommitted(group.TakeChangedStates());
  }
  const bool grown = group.head().sequence != head->sequence;
  present_.Set(group.head(), group.new_book());
  if (grown) on_commit_(group.head().sequence);
  return absl::OkStatus();
}

// Nothing in memory holds for a ledger that lacks what this process knows of it: a backup put back
// under a running server, or a lagging copy that took over. Followers of the feed would wait for
// entries that are gone, or miss those that took their place.
absl::Status Writer::StartAnew(const HeadRow& head) {
  if (options_.on_replaced) {
    options_.on_replaced(absl::DataLossError(absl::StrCat(
        "entry ", present_.head().sequence, ", which this process knows, is not in the store: the ",
        "ledger there ends at ", head.sequence, " and is an older copy or another one")));
  }
  cache_.Clear();
  present_.Set(head, nullptr);
  return LoadBook();
}

// What other processes recorded since this one last looked makes the states in memory stale.
absl::Status Writer::CatchUp(const HeadRow& head) {
  const Head known = present_.head();
  if (head.sequence == known.sequence && head.digest == known.digest) return absl::OkStatus();
  if (head.sequence <= known.sequence) return StartAnew(head);
  const bool too_many = head.sequence - known.sequence > kMostToCatchUp;
  bool continues = known.sequence == 0;
  bool settings = too_many;
  std::vector<std::string> stale;
  // From the last known entry on, which must still be there.
  const Value parameters[] = {Value::Int(known.sequence - 1),
                              Value::Int(too_many ? 1 : kMostToCatchUp + 1)};
  absl::Status status =
      connection_->Run(sql::kEntriesAfter, parameters, [&](const store::Row& row) {
        if (row.Int(0) == known.sequence) continues = row.Bytes(3) == known.digest;
        if (row.Int(0) <= known.sequence) return;
        v1::LedgerEntry entry;
        std::string_view bytes = row.Bytes(2);
        if (!entry.ParseFromArray(bytes.data(), static_cast<int>(bytes.size()))) return;
        for (const v1::Fact& fact : entry.entry().facts()) {
          for (std::string& name : fact::SubjectsOf(fact)) {
            settings |= name == fact::kSettingsName;
            stale.push_back(std::move(name));
          }
        }
      });
  if (!status.ok()) return status;
  if (!continues) return StartAnew(head);
  if (settings) {
    cache_.Clear();
  } else {
    cache_.Drop(stale);
  }
  present_.Set(head, nullptr);
  return settings ? LoadBook() : absl::OkStatus();
}

absl::Status Writer::LoadBook() {
  v1::SubjectState state;
  bool readable = true;
  const Value parameters[] = {Value::Text(fact::kSettingsName)};
  absl::Status status = connection_->Run(sql::kStateByName, parameters, [&](const store::Row& row) {
    std::string_view bytes = row.Bytes(1);
    readable = state.ParseFromArray(bytes.data(), static_cast<int>(bytes.size()));
  });
  if (!status.ok()) return status;
  if (!readable) return absl::DataLossError("the settings cannot be read; run: ferruled rebuild");
  absl::StatusOr<HeadRow> head = ReadHead(*connection_);
  if (!head.ok()) return head.status();
  present_.Set(*head, std::make_shared<const depot::SettingsBook>(fold::BookOf(state)));
  return absl::OkStatus();
}

absl::Status Writer::RefoldAll() { return RefoldInTransaction(*connection_, nullptr).status(); }

// Nothing to write: look whether another process has recorded something the feed must show.
void Writer::Idle() {
  if (!connection_->Begin(store::TransactionKind::kRead).ok()) return;
  const absl::StatusOr<HeadRow> head = ReadHead(*connection_);
  const int64_t known = present_.head().sequence;
  if (head.ok() && CatchUp(*head).ok() && present_.head().sequence != known) {
    on_commit_(head->sequence);
  }
  connection_->Rollback().IgnoreError();
}

}  // namespace ferrule::ledger
