// The connection port: one small surface over SQLite and PostgreSQL. SQL text is shared by both
// engines (only DDL differs), its parameters are $1, $2, ... in ascending order of first
// appearance, and every statement has a name.
//
// Status codes of every method: Unavailable (busy or connection lost: nothing is known to be
// applied, retry), Aborted (serialization failure: roll back and run the whole transaction again),
// AlreadyExists (unique violation), ResourceExhausted (disk full, or no memory: IsOutOfMemory),
// DataLoss (damaged file), FailedPrecondition (schema or file of the wrong kind, or calls in the
// wrong order), PermissionDenied, Cancelled (Interrupt), InvalidArgument (a value that the engine
// cannot hold), Internal (anything else, for instance a write error). Engine errors are told apart
// by number only.
//
// A Commit that fails with Unavailable or Internal may have happened all the same: ask the store,
// on a new transaction, before doing the work again.
//
// Values that both engines hold alike: 64-bit integers, text in UTF-8 without NUL (InvalidArgument
// otherwise), blobs of any bytes. Text compares and sorts by its bytes.
#pragma once

#include <concepts>
#include <cstdint>
#include <memory>
#include <span>
#include <string>
#include <string_view>

#include "absl/functional/function_ref.h"
#include "absl/status/status.h"
#include "absl/status/statusor.h"

namespace ferrule::store {

// Whether a status says that the engine had no memory for what was asked. Nothing of it was done.
bool IsOutOfMemory(const absl::Status& status);
// Marks a status so.
absl::Status OutOfMemory(absl::Status status);

// A named statement. Both pointers live for the whole program: a connection prepares a statement
// once and finds it again by the address of its text.
struct Sql {
  const char* name;
  const char* text;
};

// OK when $1, $2, ... appear in ascending order of first appearance, without gaps; Internal, naming
// the statement, otherwise. For the tests of every room that owns statements.
absl::Status ParametersAscend(const Sql& sql);

// One parameter. Text and blobs are borrowed until the call returns.
class Value {
 public:
  enum class Kind { kNull, kInt, kText, kBlob };
  static Value Null() { return Value(Kind::kNull, 0, {}); }
  static Value Int(int64_t v) { return Value(Kind::kInt, v, {}); }
  static Value Text(std::string_view v) { return Value(Kind::kText, 0, v); }
  // A temporary would not outlive the array it is put into.
  template <typename T>
  requires std::same_as<T, std::string>
  static Value Text(T&&) = delete;
  static Value Blob(std::string_view v) { return Value(Kind::kBlob, 0, v); }

  Kind kind() const { return kind_; }
  int64_t int_value() const { return int_; }
  std::string_view bytes() const { return bytes_; }

 private:
  Value(Kind kind, int64_t i, std::string_view b) : kind_(kind), int_(i), bytes_(b) {}
  Kind kind_;
  int64_t int_;
  std::string_view bytes_;
};

// One result row, valid during the callback, which must not use the connection. Columns count
// from 0; ask each column for what it is.
class Row {
 public:
  virtual ~Row() = default;
  virtual bool IsNull(int column) const = 0;
  virtual int64_t Int(int column) const = 0;             // integer; 0 for null
  virtual std::string_view Bytes(int column) const = 0;  // text or blob; empty for null
};

using RowFn = absl::FunctionRef<void(const Row&)>;
// The same for RunMany: also which parameter row the result belongs to.
using ManyRowFn = absl::FunctionRef<void(size_t, const Row&)>;

enum class TransactionKind {
  kRead,    // one consistent snapshot, taken by the first statement
  kWrite,   // the only writer of the ledger until it ends (SQLite: immediate; PostgreSQL:
            // serializable, after taking the exclusive lock on ledger_head)
  kSchema,  // the only one that changes the schema; for migrations, before ledger_head is there
};

// One connection, used by one thread at a time.
class Connection {
 public:
  virtual ~Connection() = default;

  // Transactions do not nest; a second Begin is FailedPrecondition. Rollback without a
  // transaction is a no-op, so that it can always be called after an error. A transaction in which
  // a statement failed can only be rolled back: everything else, Commit too, is FailedPrecondition
  // (and Commit rolls back). Commit ends the transaction whatever it returns.
  absl::Status Begin(TransactionKind kind);
  absl::Status Commit();
  absl::Status Rollback();
  bool in_transaction() const { return in_transaction_; }

  // Runs one statement, outside of a transaction as one of its own.
  absl::Status Run(const Sql& sql, std::span<const Value> parameters, RowFn on_row);
  absl::Status Run(const Sql& sql, std::span<const Value> parameters);
  // Runs one statement once per row of `parameters`, which holds rows of `width` values one after
  // the other; on PostgreSQL in one round trip. Stops at the first error. Only inside a
  // transaction.
  absl::Status RunMany(const Sql& sql, size_t width, std::span<const Value> parameters,
                       ManyRowFn on_row);
  absl::Status RunMany(const Sql& sql, size_t width, std::span<const Value> parameters);
  // The same for a statement whose result nobody needs yet: on PostgreSQL it goes with whatever is
  // run next, so that all writes of a transaction and its commit are one round trip. An error shows
  // with the next statement or with Commit.
  absl::Status Post(const Sql& sql, size_t width, std::span<const Value> parameters);
  // Runs DDL: several statements without parameters or results.
  absl::Status RunScript(const Sql& script);

  virtual std::string_view engine() const = 0;  // "sqlite" or "postgresql"
  virtual std::string engine_version() const = 0;
  // Asks a running statement of this connection to stop; callable from any thread.
  virtual void Interrupt() = 0;

 protected:
  virtual absl::Status DoBegin(TransactionKind kind) = 0;
  virtual absl::Status DoCommit() = 0;
  virtual absl::Status DoRollback() = 0;
  virtual absl::Status DoRun(const Sql& sql, std::span<const Value> parameters, RowFn on_row) = 0;
  virtual absl::Status DoRunMany(const Sql& sql, size_t width, std::span<const Value> parameters,
                                 ManyRowFn on_row) = 0;
  virtual absl::Status DoPost(const Sql& sql, size_t width, std::span<const Value> parameters) {
    return DoRunMany(sql, width, parameters, [](size_t, const Row&) {});
  }
  virtual absl::Status DoRunScript(const Sql& script) = 0;

 private:
  absl::Status MayRun(const Sql& sql, std::span<const Value> parameters) const;
  absl::Status MayRunMany(const Sql& sql, size_t width, std::span<const Value> parameters) const;
  absl::Status Done(absl::Status status);

  bool in_transaction_ = false;
  bool failed_ = false;   // a statement of the transaction failed
  bool running_ = false;  // inside a callback
};

// Where connections come from. Thread-safe. Connections may outlive it.
class Database {
 public:
  virtual ~Database() = default;
  // The connection that writes. SQLite: only one may be open at a time in one process, and no
  // other process has the file (see FileLock).
  virtual absl::StatusOr<std::unique_ptr<Connection>> OpenWriter() = 0;
  // A connection that only reads.
  virtual absl::StatusOr<std::unique_ptr<Connection>> OpenReader() = 0;
  virtual std::string_view engine() const = 0;
  // Whether this process alone may write, so that states kept in memory stay true.
  virtual bool exclusive() const = 0;
  // Moves the write-ahead log into the file in steps, of which this takes one when it is due, so
  // that it is begun anew soon after it is longer than `pages`; all of it at once when that is 0.
  // On the writer's connection, outside of a transaction, after every commit. Does not wait for
  // readers: what they still need stays for the next time. A no-op on PostgreSQL.
  // Errors: ResourceExhausted while the disk is full, and a later call tries again. After any other
  // the log has everything and only grows, until the depot is opened anew.
  virtual absl::Status Checkpoint(Connection& writer, int pages) = 0;
};

}  // namespace ferrule::store
