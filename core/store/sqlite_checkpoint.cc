#include "core/store/sqlite_checkpoint.h"

#include <algorithm>
#include <condition_variable>
#include <mutex>
#include <thread>
#include <utility>

namespace ferrule::store {
namespace {

constexpr int kSteps = 8;  // of a log of full length

constexpr Sql kBegin{"sqlite_checkpoint_begin", "BEGIN DEFERRED"};
constexpr Sql kLook{"sqlite_checkpoint_look", "SELECT count(*) FROM sqlite_schema"};
constexpr Sql kEnd{"sqlite_checkpoint_end", "ROLLBACK"};

}  // namespace

// Syncs the file on a thread of its own, through a connection of its own: a second way to the file
// past SQLite would, when closed, take away the locks that SQLite holds.
class SqliteCheckpoints::Syncer {
 public:
  explicit Syncer(Handle connection) : connection_(std::move(connection)) {
    sqlite3_file_control(connection_.get(), "main", SQLITE_FCNTL_FILE_POINTER, &file_);
    thread_ = std::thread([this] { Loop(); });
  }
  ~Syncer() {
    {
      const std::lock_guard lock(mutex_);
      ending_ = true;
    }
    wake_.notify_one();
    thread_.join();
  }

  void Wake() {
    {
      const std::lock_guard lock(mutex_);
      wanted_ = true;
    }
    wake_.notify_one();
  }

  // Waits until nothing is left to do. SQLITE_OK, or how a sync failed.
  int Wait() {
    std::unique_lock lock(mutex_);
    idle_.wait(lock, [this] { return !wanted_ && !running_; });
    return result_;
  }

 private:
  void Loop() {
    std::unique_lock lock(mutex_);
    while (true) {
      wake_.wait(lock, [this] { return ending_ || wanted_; });
      if (ending_) return;
      wanted_ = false;
      running_ = true;
      lock.unlock();
      const int code = file_->pMethods->xSync(file_, SQLITE_SYNC_NORMAL | SQLITE_SYNC_DATAONLY);
      lock.lock();
      if (code != SQLITE_OK) result_ = code;
      running_ = false;
      idle_.notify_all();
    }
  }

  const Handle connection_;
  sqlite3_file* file_ = nullptr;
  std::mutex mutex_;
  std::condition_variable wake_, idle_;
  bool wanted_ = false;
  bool running_ = false;
  bool ending_ = false;
  int result_ = SQLITE_OK;
  std::thread thread_;
};

SqliteCheckpoints::SqliteCheckpoints(std::string path, sqlite3* writer)
    : path_(std::move(path)), writer_(writer) {}

SqliteCheckpoints::~SqliteCheckpoints() {
  StepAside();
  Synced().IgnoreError();
}

absl::Status SqliteCheckpoints::Advance(int pages, int most) {
  if (!failed_.ok()) return failed_;
  const int step = std::max(most / kSteps, 1);
  if (pages < length_) due_ = step;  // a commit has begun the log anew
  length_ = pages;
  if (pages > most) {
    return most == 0 || pages >= due_ ? Whole(pages, step) : absl::OkStatus();
  }
  if (pages < std::max(due_, step)) return absl::OkStatus();
  return Part(pages, step);
}

// Copies up to the commit at which the reading connection stands, and has it stand at this one.
absl::Status SqliteCheckpoints::Part(int pages, int step) {
  due_ = pages + step;
  if (!Prepare()) return absl::OkStatus();
  absl::Status status;
  if (standing_) {
    status = Copy();
    StepAside();
    syncer_->Wake();
  }
  StandHere();
  return status;
}

absl::Status SqliteCheckpoints::Whole(int pages, int step) {
  StepAside();
  // Should a reader be in the way: not at every commit anew, as each try has its price.
  due_ = pages + step;
  if (absl::Status synced = Synced(); !synced.ok()) return synced;
  return Copy();
}

absl::Status SqliteCheckpoints::Copy() {
  const int code =
      sqlite3_wal_checkpoint_v2(writer_, nullptr, SQLITE_CHECKPOINT_PASSIVE, nullptr, nullptr);
  if (code == SQLITE_OK || (code & 0xff) == SQLITE_BUSY) return absl::OkStatus();
  return Failed(code, sqlite3_errmsg(writer_));
}

// What the other thread was asked for is on the disk. Before the log may be begun anew: afterwards
// nothing else has what it could not write.
absl::Status SqliteCheckpoints::Synced() {
  if (syncer_ == nullptr) return absl::OkStatus();
  const int code = syncer_->Wait();
  return code == SQLITE_OK ? absl::OkStatus() : Failed(code, "syncing the file");
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
  if (prepared_) return syncer_ != nullptr;
  prepared_ = true;
  mark_ = OpenOther();
  Handle for_syncing = OpenOther();
  if (mark_ == nullptr || for_syncing == nullptr) return false;
  const std::pair<std::unique_ptr<SqliteStatement>*, const Sql*> wanted[] = {
      {&begin_, &kBegin}, {&look_, &kLook}, {&end_, &kEnd}};
  for (const auto& [slot, sql] : wanted) {
    auto statement = SqliteStatement::Prepare(mark_.get(), *sql);
    if (!statement.ok()) return false;
    *slot = *std::move(statement);
  }
  syncer_ = std::make_unique<Syncer>(std::move(for_syncing));
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
