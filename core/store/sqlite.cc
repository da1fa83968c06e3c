// The embedded engine. One process owns a depot file (FileLock), and in it the writing connection
// alone commits and begins the write-ahead log anew; sqlite_checkpoint.h says how the log is moved
// into the file beside it, and what must never happen at the same time.
#include <SQLiteCpp/SQLiteCpp.h>
#include <sqlite3.h>

#include <algorithm>
#include <atomic>
#include <cstring>
#include <filesystem>
#include <string>
#include <unordered_map>
#include <utility>

#include "absl/strings/str_cat.h"
#include "core/store/file_lock.h"
#include "core/store/file_place.h"
#include "core/store/open.h"
#include "core/store/sqlite_checkpoint.h"
#include "core/store/sqlite_header.h"
#include "core/store/sqlite_log_file.h"
#include "core/store/sqlite_statement.h"

namespace ferrule::store {
namespace {

constexpr int kBusyTimeoutMs = 5'000;  // only this process' own connections can be in the way

constexpr Sql kBeginRead{"sqlite_begin_read", "BEGIN DEFERRED"};
constexpr Sql kBeginWrite{"sqlite_begin_write", "BEGIN IMMEDIATE"};
constexpr Sql kCommit{"sqlite_commit", "COMMIT"};
constexpr Sql kRollback{"sqlite_rollback", "ROLLBACK"};

// Synchronous FULL: with NORMAL a power cut loses commits that were answered for. Secure delete
// FAST: bytes taken out are overwritten where that costs no page of its own.
constexpr char kPragmas[] = R"sql(
  PRAGMA synchronous = FULL;
  PRAGMA foreign_keys = ON;
  PRAGMA trusted_schema = OFF;
  PRAGMA cell_size_check = ON;
  PRAGMA secure_delete = FAST;
  PRAGMA temp_store = MEMORY;
  PRAGMA wal_autocheckpoint = 0;
  PRAGMA journal_size_limit = 67108864;
)sql";
// KiB. Small for the writer: SQLite numbers pages that it moves over the one at 1 GiB for a moment,
// and after that the commit of a smaller file looks at every page of the cache. What is not in it
// comes from the system's memory: eight times as much, or a mapped file, halved what was read at
// 300,000 facts of a large fleet and saved less than a tenth of the time (the bench growth).
constexpr char kWriterPragmas[] = "PRAGMA cache_size = -8192";
constexpr char kReaderPragmas[] = "PRAGMA cache_size = -16384; PRAGMA query_only = ON";

// What the connections of one depot share; the last one gone lets the lock go.
struct Depot {
  std::string path;  // empty in memory
  std::string uri;   // only in memory
  std::unique_ptr<FileLock> lock;
  std::unique_ptr<SQLite::Database> anchor;  // keeps a depot in memory alive
  std::atomic<bool> has_writer = false;

  ~Depot();
};

int CompareBytes(void*, int left_size, const void* left, int right_size, const void* right) {
  const int common = std::memcmp(left, right, size_t(std::min(left_size, right_size)));
  return common != 0 ? common : left_size - right_size;
}

// The one place where SQLiteCpp's exceptions become statuses.
template <typename Action>
absl::Status Guard(std::string_view doing, Action action) {
  try {
    return action();
  } catch (const SQLite::Exception& e) {
    const int code = e.getExtendedErrorCode();
    return SqliteStatus(code > 0 ? code : SQLITE_ERROR, e.what(), doing);
  } catch (const std::exception& e) {
    return absl::InternalError(
        absl::StrCat(absl::string_view(doing.data(), doing.size()), ": ", e.what()));
  }
}

void SignAsDepot(SQLite::Database& database) {
  database.exec(absl::StrCat("PRAGMA application_id = ", kApplicationId));
}

class SqliteConnection final : public Connection {
 public:
  enum class Role { kWriter, kReader };

  SqliteConnection(std::shared_ptr<Depot> depot, Role role)
      : depot_(std::move(depot)),
        role_(role),
        file_(depot_->path),
        log_(absl::StrCat(depot_->path, "-wal")) {}
  ~SqliteConnection() override;

  absl::Status Open();
  absl::Status Checkpoint(int pages);

  std::string_view engine() const override { return "sqlite"; }
  std::string engine_version() const override { return sqlite3_libversion(); }
  void Interrupt() override { sqlite3_interrupt(handle_); }

 protected:
  absl::Status DoBegin(TransactionKind kind) override;
  absl::Status DoCommit() override;
  absl::Status DoRollback() override;
  absl::Status DoRun(const Sql& sql, std::span<const Value> parameters, RowFn on_row) override;
  absl::Status DoRunMany(const Sql& sql, size_t width, std::span<const Value> parameters,
                         ManyRowFn on_row) override;
  absl::Status DoRunScript(const Sql& script) override;

 private:
  absl::Status Configure();
  void CreateAgain();
  absl::Status UseWriteAheadLog();
  absl::StatusOr<SqliteStatement*> Prepared(const Sql& sql);
  absl::Status RunOwn(const Sql& sql);
  absl::Status InPlace() const;

  const std::shared_ptr<Depot> depot_;
  const Role role_;
  FilePlace file_;
  FilePlace log_;  // the write-ahead log, open from the first commit on
  std::unique_ptr<SQLite::Database> database_;
  sqlite3* handle_ = nullptr;
  int log_pages_ = 0;  // length of the write-ahead log after the last commit
  // By address of the text. After database_, so that it goes first.
  std::unordered_map<const char*, std::unique_ptr<SqliteStatement>> statements_;
  std::unique_ptr<SqliteCheckpoints> checkpoints_;  // of the writer of a file
};

SqliteConnection::~SqliteConnection() {
  checkpoints_.reset();
  statements_.clear();
  database_.reset();
  if (role_ == Role::kWriter) depot_->has_writer = false;
}

absl::Status SqliteConnection::Open() {
  const bool in_memory = depot_->path.empty();
  return Guard("opening the depot file", [&] {
    const int flags = SQLite::OPEN_READWRITE | SQLite::OPEN_NOMUTEX |
                      (in_memory ? SQLite::OPEN_CREATE | SQLite::OPEN_URI : 0);
    const bool writes = role_ == Role::kWriter && !in_memory;
    database_ = std::make_unique<SQLite::Database>(in_memory ? depot_->uri : depot_->path, flags,
                                                   kBusyTimeoutMs, writes ? LogGatheringVfs() : "");
    handle_ = database_->getHandle();
    if (!in_memory) file_.Note();
    return Configure();
  });
}

absl::Status SqliteConnection::Configure() {
  sqlite3_extended_result_codes(handle_, 1);
  sqlite3_db_config(handle_, SQLITE_DBCONFIG_DEFENSIVE, 1, nullptr);
  // Statements may say COLLATE "C", which PostgreSQL needs where a column does not say so.
  sqlite3_create_collation(handle_, "C", SQLITE_UTF8, nullptr, CompareBytes);
  if (role_ == Role::kReader) {
    sqlite3_db_config(handle_, SQLITE_DBCONFIG_NO_CKPT_ON_CLOSE, 1, nullptr);
  }
  database_->exec(kPragmas);
  database_->exec(role_ == Role::kWriter ? kWriterPragmas : kReaderPragmas);
  if (role_ == Role::kReader || depot_->path.empty()) return absl::OkStatus();
  // The engine falls back to reading when it may not write.
  if (sqlite3_db_readonly(handle_, "main") != 0) {
    return absl::PermissionDeniedError(
        absl::StrCat(depot_->path, " cannot be written: file, folder and disk must be writable"));
  }
  CreateAgain();
  return UseWriteAheadLog();
}

// When the power was cut while the file was made, its header may be there already, and opening it
// takes it back.
void SqliteConnection::CreateAgain() {
  if (database_->execAndGet("PRAGMA page_count").getInt64() == 0) SignAsDepot(*database_);
}

absl::Status SqliteConnection::UseWriteAheadLog() {
  const std::string mode = database_->execAndGet("PRAGMA journal_mode = WAL").getString();
  if (mode != "wal") {
    return absl::FailedPreconditionError(
        absl::StrCat(depot_->path, ": the disk does not allow a write-ahead log (journal mode ",
                     mode, "). Keep the depot on a local disk"));
  }
  // Takes the place of the automatic checkpoint, whose errors nobody would see.
  sqlite3_wal_hook(
      handle_,
      [](void* self, sqlite3*, const char*, int pages) {
        static_cast<SqliteConnection*>(self)->log_pages_ = pages;
        return SQLITE_OK;
      },
      this);
  checkpoints_ = std::make_unique<SqliteCheckpoints>(depot_->path, handle_);
  return absl::OkStatus();
}

absl::StatusOr<SqliteStatement*> SqliteConnection::Prepared(const Sql& sql) {
  std::unique_ptr<SqliteStatement>& slot = statements_[sql.text];
  if (slot == nullptr) {
    auto prepared = SqliteStatement::Prepare(handle_, sql);
    if (!prepared.ok()) return prepared.status();
    slot = *std::move(prepared);
  }
  return slot.get();
}

absl::Status SqliteConnection::RunOwn(const Sql& sql) {
  auto statement = Prepared(sql);
  if (!statement.ok()) return statement.status();
  return (*statement)->Run();
}

absl::Status SqliteConnection::InPlace() const {
  for (const FilePlace* file : {&file_, &log_}) {
    if (!file->Moved()) continue;
    return absl::UnavailableError(
        absl::StrCat(file->path(),
                     " was moved, deleted or replaced while it was in use, so nothing "
                     "more is recorded. Put it back if it was moved, or end this "
                     "process and restore the last backup"));
  }
  return absl::OkStatus();
}

absl::Status SqliteConnection::DoBegin(TransactionKind kind) {
  if (kind != TransactionKind::kRead) {
    if (absl::Status in_place = InPlace(); !in_place.ok()) return in_place;
  }
  // A rollback may have failed for want of memory.
  if (absl::Status rolled_back = DoRollback(); !rolled_back.ok()) return rolled_back;
  return RunOwn(kind == TransactionKind::kRead ? kBeginRead : kBeginWrite);
}

absl::Status SqliteConnection::DoCommit() {
  absl::Status status = RunOwn(kCommit);
  // Memory may run out after the commit mark reached the disk: whether it holds is not known.
  if (IsOutOfMemory(status)) {
    return absl::InternalError(
        "statement commit: no memory was left to end it, so it may hold or not: end other programs "
        "or add memory, then ask again");
  }
  if (status.ok() && role_ == Role::kWriter && !depot_->path.empty()) log_.Note();
  return status;
}

absl::Status SqliteConnection::DoRollback() {
  // A full disk, an I/O error or an interrupt may have rolled it back already.
  if (sqlite3_get_autocommit(handle_) != 0) return absl::OkStatus();
  return RunOwn(kRollback);
}

absl::Status SqliteConnection::DoRun(const Sql& sql, std::span<const Value> parameters,
                                     RowFn on_row) {
  auto statement = Prepared(sql);
  if (!statement.ok()) return statement.status();
  return (*statement)->Run(parameters.size(), parameters, [&](size_t, const Row& row) {
    on_row(row);
  });
}

absl::Status SqliteConnection::DoRunMany(const Sql& sql, size_t width,
                                         std::span<const Value> parameters, ManyRowFn on_row) {
  auto statement = Prepared(sql);
  if (!statement.ok()) return statement.status();
  return (*statement)->Run(width, parameters, on_row);
}

absl::Status SqliteConnection::DoRunScript(const Sql& script) {
  return Guard(absl::StrCat("script ", script.name), [&] {
    database_->exec(script.text);
    return absl::OkStatus();
  });
}

absl::Status SqliteConnection::Checkpoint(int pages) {
  if (in_transaction()) return absl::FailedPreconditionError("checkpoint inside a transaction");
  return checkpoints_ == nullptr ? absl::OkStatus() : checkpoints_->Advance(log_pages_, pages);
}

// When a reader was the last to close, the log is still beside the file. Taking it in leaves the
// depot in one file, for whoever copies it now. If that fails nothing is lost: the log stays.
Depot::~Depot() {
  anchor.reset();
  if (path.empty()) return;
  std::error_code ignored;
  if (!std::filesystem::exists(path + "-wal", ignored)) return;
  Guard("closing the depot file", [&] {
    SQLite::Database last(path, SQLite::OPEN_READWRITE, kBusyTimeoutMs);
    last.exec("PRAGMA synchronous = FULL; SELECT count(*) FROM sqlite_schema");
    return absl::OkStatus();
  }).IgnoreError();
}

class SqliteDatabase final : public Database {
 public:
  explicit SqliteDatabase(std::shared_ptr<Depot> depot) : depot_(std::move(depot)) {}

  absl::StatusOr<std::unique_ptr<Connection>> OpenWriter() override {
    if (depot_->has_writer.exchange(true)) {
      return absl::FailedPreconditionError("the depot's writing connection is open already");
    }
    return Opened(SqliteConnection::Role::kWriter);
  }
  absl::StatusOr<std::unique_ptr<Connection>> OpenReader() override {
    if (depot_->path.empty()) {
      return absl::UnimplementedError("a depot in memory has one connection only");
    }
    return Opened(SqliteConnection::Role::kReader);
  }
  std::string_view engine() const override { return "sqlite"; }
  bool exclusive() const override { return true; }
  absl::Status Checkpoint(Connection& writer, int pages) override {
    return static_cast<SqliteConnection&>(writer).Checkpoint(pages);
  }

 private:
  absl::StatusOr<std::unique_ptr<Connection>> Opened(SqliteConnection::Role role) {
    auto connection = std::make_unique<SqliteConnection>(depot_, role);
    if (absl::Status status = connection->Open(); !status.ok()) return status;
    return connection;
  }

  const std::shared_ptr<Depot> depot_;
};

// Makes the file a depot: the mark goes into its first page before anything else does.
absl::Status Create(const std::string& path) {
  return Guard(absl::StrCat("creating ", path), [&] {
    SQLite::Database database(path, SQLite::OPEN_READWRITE | SQLite::OPEN_CREATE, kBusyTimeoutMs);
    SignAsDepot(database);
    return absl::OkStatus();
  });
}

}  // namespace

absl::StatusOr<std::unique_ptr<Database>> OpenSqlite(const SqliteOptions& options) {
  auto depot = std::make_shared<Depot>();
  // One name for one file: the lock must not be passed by through a link.
  std::error_code error;
  const std::string path = std::filesystem::weakly_canonical(options.path, error).string();
  if (error || path.empty()) {
    return absl::NotFoundError(
        absl::StrCat("cannot find the depot file '", options.path, "': ", error.message()));
  }
  if (!options.create && !std::filesystem::exists(path, error)) {
    return absl::NotFoundError(absl::StrCat("there is no depot file ", path,
                                            ". Check the path, or create the depot first"));
  }
  auto lock = FileLock::Acquire(path + ".lock", options.lock_wait);
  if (!lock.ok()) return lock.status();
  depot->lock = *std::move(lock);
  auto found = ReadSqliteHeader(path);
  if (!found.ok()) return found.status();
  if (*found == SqliteFile::kNone && !options.create) {
    return absl::FailedPreconditionError(
        absl::StrCat(path, " is empty and so no depot. Check the path, or create the depot first"));
  }
  if (*found == SqliteFile::kNone) {
    if (absl::Status status = Create(path); !status.ok()) return status;
  }
  depot->path = path;
  return std::make_unique<SqliteDatabase>(std::move(depot));
}

absl::StatusOr<std::unique_ptr<Database>> OpenSqliteInMemory() {
  static std::atomic<int> next = 1;
  auto depot = std::make_shared<Depot>();
  depot->uri = absl::StrCat("file:/depot-", next++, "?vfs=memdb");
  absl::Status status = Guard("opening a depot in memory", [&] {
    depot->anchor = std::make_unique<SQLite::Database>(
        depot->uri, SQLite::OPEN_READWRITE | SQLite::OPEN_CREATE | SQLite::OPEN_URI);
    return absl::OkStatus();
  });
  if (!status.ok()) return status;
  return std::make_unique<SqliteDatabase>(std::move(depot));
}

}  // namespace ferrule::store
