// The engine for more than one machine. Writers queue for the lock on ledger_head before they take
// their snapshot, so none of them ever works on a snapshot older than its turn: serializable costs
// them no retries among themselves.

#include <algorithm>
#include <array>
#include <memory>
#include <mutex>
#include <string>
#include <utility>

#include "absl/strings/str_cat.h"
#include "core/store/libpq.h"
#include "core/store/open.h"
#include "core/store/postgres_session.h"
#include "core/store/postgres_values.h"

namespace ferrule::store {
namespace {

// A round trip carries at most so much, so that neither side buffers without bound.
constexpr size_t kRowsPerTrip = 4'096;
constexpr size_t kBytesPerTrip = 8 << 20;

constexpr const char* kBeginRead[] = {"BEGIN ISOLATION LEVEL REPEATABLE READ READ ONLY"};
constexpr const char* kBeginWrite[] = {"BEGIN ISOLATION LEVEL SERIALIZABLE",
                                       "LOCK TABLE ledger_head IN EXCLUSIVE MODE"};
// The number is our own, the same in every process that migrates.
constexpr const char* kBeginSchema[] = {"BEGIN ISOLATION LEVEL READ COMMITTED",
                                        "SELECT pg_advisory_xact_lock(7300425)"};
constexpr const char* kCommit[] = {"COMMIT"};
constexpr const char* kRollback[] = {"ROLLBACK"};

std::span<const char* const> BeginOf(TransactionKind kind) {
  switch (kind) {
    case TransactionKind::kRead:
      return kBeginRead;
    case TransactionKind::kWrite:
      return kBeginWrite;
    case TransactionKind::kSchema:
      break;
  }
  return kBeginSchema;
}

class PgConnection final : public Connection {
 public:
  PgConnection(std::string conninfo, bool read_only)
      : conninfo_(std::move(conninfo)), read_only_(read_only) {}

  // Connects, when it is not connected.
  absl::Status Connect();

  std::string_view engine() const override { return "postgresql"; }
  std::string engine_version() const override { return version_; }
  void Interrupt() override {
    const std::lock_guard<std::mutex> lock(session_mutex_);
    if (session_ != nullptr) session_->Cancel();
  }

 protected:
  absl::Status DoBegin(TransactionKind kind) override;
  absl::Status DoCommit() override;
  absl::Status DoRollback() override;
  absl::Status DoRun(const Sql& sql, std::span<const Value> parameters, RowFn on_row) override;
  absl::Status DoRunMany(const Sql& sql, size_t width, std::span<const Value> parameters,
                         ManyRowFn on_row) override;
  absl::Status DoPost(const Sql& sql, size_t width, std::span<const Value> parameters) override;
  absl::Status DoRunScript(const Sql& script) override;

 private:
  // Waits for what was posted, if anything was.
  absl::Status Settle();
  bool alive() const { return session_ != nullptr && session_->alive(); }
  // Outside of a transaction a lost connection is opened again; inside it is an error.
  absl::Status Usable();

  const std::string conninfo_;
  const bool read_only_;
  std::string version_;
  std::mutex session_mutex_;  // held to change session_, and by Interrupt
  std::unique_ptr<PgSession> session_;
};

absl::Status PgConnection::Connect() {
  if (alive()) return absl::OkStatus();
  auto opened = PgSession::Open(conninfo_, read_only_);
  if (!opened.ok()) return opened.status();
  const std::lock_guard<std::mutex> lock(session_mutex_);
  session_ = *std::move(opened);
  version_ = session_->server_version();
  return absl::OkStatus();
}

absl::Status PgConnection::Usable() {
  if (alive()) return absl::OkStatus();
  if (in_transaction()) {
    return absl::UnavailableError(
        "the connection to the database is lost and the transaction with it: try again");
  }
  return Connect();
}

absl::Status PgConnection::DoBegin(TransactionKind kind) {
  // A connection may have been lost without our knowing; nothing was done yet, so once more.
  for (bool again : {true, false}) {
    if (absl::Status status = Connect(); !status.ok()) return status;
    absl::Status status = session_->Commands(BeginOf(kind));
    if (status.ok()) return status;
    if (alive()) {
      DoRollback().IgnoreError();
      return status;
    }
    if (!again) return status;
  }
  return absl::InternalError("unreachable");
}

absl::Status PgConnection::DoCommit() {
  if (!alive()) return Usable();
  std::string tag;
  absl::Status status = session_->Commands(kCommit, [&](size_t, const PGresult* result) {
    tag = libpq.PQcmdStatus(const_cast<PGresult*>(result));
  });
  if (!status.ok() || tag == "COMMIT") return status;
  // The server answers COMMIT of a failed transaction with ROLLBACK and without an error.
  return absl::AbortedError("the database rolled the transaction back: do it again");
}

absl::Status PgConnection::DoRollback() {
  if (!alive()) return absl::OkStatus();
  // Behind a posted statement that fails the server would skip the command.
  Settle().IgnoreError();
  if (!alive()) return absl::OkStatus();
  return session_->Commands(kRollback);
}

absl::Status PgConnection::DoRun(const Sql& sql, std::span<const Value> parameters, RowFn on_row) {
  if (absl::Status status = Usable(); !status.ok()) return status;
  auto statement = session_->Prepared(sql, parameters);
  if (!statement.ok()) return statement.status();
  PgParameters row((*statement)->types);
  row.Set(parameters);
  if (absl::Status status = session_->Send(**statement, row); !status.ok()) return status;
  return session_->Finish(absl::StrCat("statement ", sql.name), /*by_row=*/true,
                          [&](size_t, const PGresult* result) {
                            for (int i = 0; i < libpq.PQntuples(result); ++i)
                              on_row(PgRow(result, i));
                          });
}

absl::Status PgConnection::DoRunMany(const Sql& sql, size_t width,
                                     std::span<const Value> parameters, ManyRowFn on_row) {
  if (absl::Status status = Usable(); !status.ok()) return status;
  auto statement = session_->Prepared(sql, parameters.first(width));
  if (!statement.ok()) return statement.status();
  PgParameters row((*statement)->types);
  const std::string doing = absl::StrCat("statement ", sql.name);
  const size_t rows = parameters.size() / width;
  for (size_t first = 0; first < rows;) {
    size_t next = first;
    for (size_t bytes = 0; next < rows && next - first < kRowsPerTrip && bytes < kBytesPerTrip;
         ++next) {
      const auto values = parameters.subspan(next * width, width);
      for (const Value& value : values) bytes += value.bytes().size();
      row.Set(values);
      if (absl::Status status = session_->Send(**statement, row); !status.ok()) return status;
    }
    absl::Status status =
        session_->Finish(doing, /*by_row=*/false, [&](size_t which, const PGresult* result) {
          for (int i = 0; i < libpq.PQntuples(result); ++i) on_row(first + which, PgRow(result, i));
        });
    if (!status.ok()) return status;
    first = next;
  }
  return absl::OkStatus();
}

absl::Status PgConnection::DoPost(const Sql& sql, size_t width, std::span<const Value> parameters) {
  if (absl::Status status = Usable(); !status.ok()) return status;
  auto statement = session_->Prepared(sql, parameters.first(width));
  if (!statement.ok()) return statement.status();
  PgParameters row((*statement)->types);
  size_t bytes = 0;
  for (; !parameters.empty(); parameters = parameters.subspan(width)) {
    for (const Value& value : parameters.first(width)) bytes += value.bytes().size();
    row.Set(parameters.first(width));
    if (absl::Status status = session_->Post(**statement, row); !status.ok()) return status;
    if (session_->posted() < kRowsPerTrip && bytes < kBytesPerTrip) continue;
    bytes = 0;
    if (absl::Status status = Settle(); !status.ok()) return status;
  }
  return absl::OkStatus();
}

absl::Status PgConnection::Settle() {
  if (session_->posted() == 0) return absl::OkStatus();
  return session_->Finish("posted statements", /*by_row=*/false, [](size_t, const PGresult*) {});
}

absl::Status PgConnection::DoRunScript(const Sql& script) {
  if (absl::Status status = Usable(); !status.ok()) return status;
  if (absl::Status status = Settle(); !status.ok()) return status;
  return session_->Script(script.text, absl::StrCat("script ", script.name));
}

class PgDatabase final : public Database {
 public:
  explicit PgDatabase(std::string conninfo) : conninfo_(std::move(conninfo)) {}

  absl::StatusOr<std::unique_ptr<Connection>> OpenWriter() override { return Opened(false); }
  absl::StatusOr<std::unique_ptr<Connection>> OpenReader() override { return Opened(true); }
  std::string_view engine() const override { return "postgresql"; }
  bool exclusive() const override { return false; }
  absl::Status Checkpoint(Connection&, int) override { return absl::OkStatus(); }

 private:
  absl::StatusOr<std::unique_ptr<Connection>> Opened(bool read_only) {
    auto connection = std::make_unique<PgConnection>(conninfo_, read_only);
    if (absl::Status status = connection->Connect(); !status.ok()) return status;
    return connection;
  }

  const std::string conninfo_;
};

}  // namespace

absl::StatusOr<std::unique_ptr<Database>> OpenPostgres(const std::string& conninfo) {
  if (absl::Status loaded = LoadLibpq(); !loaded.ok()) return loaded;
  char* error = nullptr;
  PQconninfoOption* const options = libpq.PQconninfoParse(conninfo.c_str(), &error);
  if (options == nullptr) {
    std::string message = error == nullptr ? "out of memory" : error;
    libpq.PQfreemem(error);
    while (!message.empty() && message.back() == '\n') message.pop_back();
    return absl::InvalidArgumentError(
        absl::StrCat("the connection string is wrong: ", message,
                     ". Write it as in: host=db.example port=5432 dbname=depot user=ferrule"));
  }
  libpq.PQconninfoFree(options);
  return std::make_unique<PgDatabase>(conninfo);
}

}  // namespace ferrule::store
