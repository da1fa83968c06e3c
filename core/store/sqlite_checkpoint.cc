#include "core/store/sqlite_checkpoint.h"

#include <algorithm>
#include <condition_variable>
#include <mutex>
#include <optional>
#include <thread>
#include <utility>

namespace ferrule::store {
namespace {

// In parts of a log of full length: how much the thread copies at once, from where on it copies
// whatever has come in the meantime, and how little is left to the last step then. The same pages
// come again and again in the log of a small depot, so that fewer parts copy less.
constexpr double kPart = 0.25;
constexpr double kEnding = 0.75;
constexpr double kLast = 1.0 / 32;

constexpr Sql kBegin{"sqlite_checkpoint_begin", "BEGIN DEFERRED"};
constexpr Sql kLook{"sqlite_checkpoint_look", "SELECT count(*) FROM sqlite_schema"};
constexpr Sql kEnd{"sqlite_checkpoint_end", "ROLLBACK"};

// As much of the log as no reader stands in the way of, and no lock. `copied` is what the file has
// of the log then, in pages from its beginning.
int Copy(sqlite3* connection, int* copied) {
  int found = 0;
  const int code =
      sqlite3_wal_checkpoint_v2(connection, nullptr, SQLITE_CHECKPOINT_PASSIVE, nullptr, &found);
  if (code == SQLITE_OK) *copied = found;
  return (code & 0xff) == SQLITE_BUSY ? SQLITE_OK : code;
}

}  // namespace

// Copies what is committed from the log into the file and syncs it, on a thread of its own and
// through a connection of its own: a second way to the file past SQLite would, when closed, take
// away the locks that SQLite holds.
class SqliteCheckpoints::Mover {
 public:
  explicit Mover(Handle connection) : connection_(std::move(connection)) {
    sqlite3_file_control(connection_.get(), "main", SQLITE_FCNTL_FILE_POINTER, &file_);
    thread_ = std::thread([this] { Loop(); });
  }
  ~Mover() {
    {
      const std::lock_guard lock(mutex_);
      ending_ = true;
    }
    changed_.notify_all();
    thread_.join();
  }

  void Begin() {
    {
      const std::lock_guard lock(mutex_);
      busy_ = true;
    }
    changed_.notify_all();
  }

  bool busy() {
    const std::lock_guard lock(mutex_);
    return busy_;
  }

  struct Result {
    int code = SQLITE_OK;
    std::string message;
    int copied = 0;
  };
  // Waits until the part is done, if there is one, and tells how it went; once.
  std::optional<Result> Wait() {
    std::unique_lock lock(mutex_);
    changed_.wait(lock, [this] { return !busy_; });
    return std::exchange(result_, std::nullopt);
  }

 private:
  void Loop() {
    std::unique_lock lock(mutex_);
    while (true) {
      changed_.wait(lock, [this] { return ending_ || busy_; });
      if (!busy_) return;
      lock.unlock();
      Result result = Move();
      lock.lock();
      result_ = std::move(result);
      busy_ = false;
      changed_.notify_all();
    }
  }

  Result Move() {
    int copied = 0;
    const int code = Copy(connection_.get(), &copied);
    if (code != SQLITE_OK) return {code, sqlite3_errmsg(connection_.get()), 0};
    return {file_->pMethods->xSync(file_, SQLITE_SYNC_NORMAL | SQLITE_SYNC_DATAONLY),
            "syncing the file", copied};
  }

  const Handle connection_;
  sqlite3_file* file_ = nullptr;
  std::mutex mutex_;
  std::condition_variable changed_;
  bool busy_ = false;
  bool ending_ = false;
  std::optional<Result> result_;
  std::thread thread_;
};

SqliteCheckpoints::SqliteCheckpoints(std::string path, sqlite3* writer)
    : path_(std::move(path)), writer_(writer) {}

SqliteCheckpoints::~SqliteCheckpoints() {
  Outcome().IgnoreError();
  StepAside();
}

absl::Status SqliteCheckpoints::Advance(int pages, int most) {
  if (!failed_.ok()) return failed_;
  if (pages < length_) copied_ = begun_ = due_ = 0;  // a commit has begun the log anew
  length_ = pages;
  const auto part_of = [most](double part) { return std::max(static_cast<int>(part * most), 1); };
  if (most == 0) return Whole(pages, part_of(kLast));
  if (pages < due_) return absl::OkStatus();
  const bool ending = pages > part_of(kEnding);
  if (!ending && pages - begun_ < part_of(kPart)) return absl::OkStatus();
  if (!Prepare()) return pages > most ? Whole(pages, part_of(kLast)) : absl::OkStatus();
  // A slow disk is given time; but the log does not grow without bound for it. It may be long from
  // the start, when a reader has kept it so.
  const int bound = begun_ <= 2 * most ? 2 * most : begun_ + most;
  if (mover_->busy() && pages <= bound) return absl::OkStatus();
  const int before = copied_;
  if (absl::Status moved = Outcome(); !moved.ok()) return moved;
  if (copied_ < begun_) {  // a reader is in the way
    begun_ = copied_;
    due_ = pages + part_of(kLast);
    return absl::OkStatus();
  }
  const int left = pages - copied_;
  const bool behind = pages > 2 * most && copied_ > before && left >= copied_ - before;
  if (ending && (left <= part_of(kLast) || behind)) return Whole(pages, part_of(kLast));
  Part(pages);
  return absl::OkStatus();
}

// Has the thread copy what is committed now.
void SqliteCheckpoints::Part(int pages) {
  StepAside();
  StandHere();
  if (!standing_) return;
  begun_ = pages;
  mover_->Begin();
}

// Should a reader be in the way, the next try comes when the log has so many pages more: each has
// its price.
absl::Status SqliteCheckpoints::Whole(int pages, int more) {
  // Before the log may be begun anew: afterwards nothing else has what the thread could not write.
  if (absl::Status moved = Outcome(); !moved.ok()) return moved;
  StepAside();
  due_ = pages + more;
  const int code = Copy(writer_, &copied_);
  begun_ = copied_;
  return code == SQLITE_OK ? absl::OkStatus() : Failed(code, sqlite3_errmsg(writer_));
}

// Waits until the thread is done.
absl::Status SqliteCheckpoints::Outcome() {
  if (mover_ == nullptr) return absl::OkStatus();
  const std::optional<Mover::Result> result = mover_->Wait();
  if (!result.has_value()) return absl::OkStatus();
  if (result->code != SQLITE_OK) return Failed(result->code, result->message);
  copied_ = result->copied;
  return absl::OkStatus();
}

absl::Status SqliteCheckpoints::Failed(int code, std::string_view message) {
  absl::Status status = SqliteStatus(code, message, "checkpoint");
  if (absl::IsResourceExhausted(status)) return status;
  failed_ = status;
  sqlite3_db_config(writer_, SQLITE_DBCONFIG_NO_CKPT_ON_CLOSE, 1, nullptr);
  return status;
}

// Only called while the log has pages that are not in the file: a reader that begins when all are
// there would keep every checkpoint from writing.
void SqliteCheckpoints::StandHere() {
  standing_ = begin_->Run().ok();
  if (standing_ && !look_->Run().ok()) StepAside();
}

void SqliteCheckpoints::StepAside() {
  if (standing_ && end_->Run().ok()) standing_ = false;
}

bool SqliteCheckpoints::Prepare() {
  if (prepared_) return mover_ != nullptr;
  prepared_ = true;
  mark_ = OpenOther();
  Handle for_moving = OpenOther();
  if (mark_ == nullptr || for_moving == nullptr) return false;
  const std::pair<std::unique_ptr<SqliteStatement>*, const Sql*> wanted[] = {
      {&begin_, &kBegin}, {&look_, &kLook}, {&end_, &kEnd}};
  for (const auto& [slot, sql] : wanted) {
    auto statement = SqliteStatement::Prepare(mark_.get(), *sql);
    if (!statement.ok()) return false;
    *slot = *std::move(statement);
  }
  mover_ = std::make_unique<Mover>(std::move(for_moving));
  return true;
}

// A connection that only reads. It has the file open once it has read something.
SqliteCheckpoints::Handle SqliteCheckpoints::OpenOther() const {
  sqlite3* opened = nullptr;
  const int code =
      sqlite3_open_v2(path_.c_str(), &opened, SQLITE_OPEN_READWRITE | SQLITE_OPEN_NOMUTEX, nullptr);
  Handle connection(opened);
  if (code != SQLITE_OK) return nullptr;
  sqlite3_db_config(opened, SQLITE_DBCONFIG_NO_CKPT_ON_CLOSE, 1, nullptr);
  const int read = sqlite3_exec(opened, "PRAGMA query_only = ON; PRAGMA schema_version", nullptr,
                                nullptr, nullptr);
  return read == SQLITE_OK ? std::move(connection) : nullptr;
}

}  // namespace ferrule::store
