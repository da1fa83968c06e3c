#include "core/store/sqlite_statement.h"

#include <string>
#include <utility>

#include "absl/strings/str_cat.h"

namespace ferrule::store {
namespace {

absl::StatusCode CodeOf(int extended) {
  switch (extended) {
    case SQLITE_CONSTRAINT_PRIMARYKEY:
    case SQLITE_CONSTRAINT_UNIQUE:
    case SQLITE_CONSTRAINT_ROWID:
      return absl::StatusCode::kAlreadyExists;
    default:
      break;
  }
  switch (extended & 0xff) {
    case SQLITE_BUSY:
    case SQLITE_LOCKED:
      return absl::StatusCode::kUnavailable;
    case SQLITE_FULL:
    case SQLITE_NOMEM:
      return absl::StatusCode::kResourceExhausted;
    case SQLITE_CORRUPT:
    case SQLITE_NOTADB:
      return absl::StatusCode::kDataLoss;
    case SQLITE_INTERRUPT:
      return absl::StatusCode::kCancelled;
    case SQLITE_PERM:
    case SQLITE_AUTH:
    case SQLITE_CANTOPEN:
    case SQLITE_READONLY:
      return absl::StatusCode::kPermissionDenied;
    case SQLITE_TOOBIG:
      return absl::StatusCode::kInvalidArgument;
    default:
      return absl::StatusCode::kInternal;
  }
}

std::string_view RemedyFor(int extended) {
  switch (extended & 0xff) {
    case SQLITE_BUSY:
    case SQLITE_LOCKED:
      return "the depot file is busy: try again";
    case SQLITE_FULL:
      return "the disk is full: make room, then try again";
    case SQLITE_NOMEM:
      return "the machine has no memory left for it, nothing was done: end other programs or add "
             "memory, then try again";
    case SQLITE_CORRUPT:
    case SQLITE_NOTADB:
      return "the depot file is damaged: keep it as it is and restore the last backup";
    case SQLITE_INTERRUPT:
      return "interrupted";
    case SQLITE_CANTOPEN:
    case SQLITE_PERM:
    case SQLITE_READONLY:
      return "the depot file cannot be opened or written: file, folder and disk must be writable";
    case SQLITE_IOERR:
      return "the disk failed or is full: check it before going on";
    default:
      return "";
  }
}

class SqliteRow final : public Row {
 public:
  explicit SqliteRow(sqlite3_stmt* statement) : statement_(statement) {}
  bool IsNull(int column) const override {
    return sqlite3_column_type(statement_, column) == SQLITE_NULL;
  }
  int64_t Int(int column) const override { return sqlite3_column_int64(statement_, column); }
  std::string_view Bytes(int column) const override {
    const void* data = sqlite3_column_blob(statement_, column);
    if (data == nullptr) return {};
    return {static_cast<const char*>(data), size_t(sqlite3_column_bytes(statement_, column))};
  }

 private:
  sqlite3_stmt* const statement_;
};

}  // namespace

absl::Status SqliteStatus(int code, std::string_view message, std::string_view doing) {
  const std::string_view remedy = RemedyFor(code);
  const auto view = [](std::string_view s) { return absl::string_view(s.data(), s.size()); };
  absl::Status status(
      CodeOf(code), absl::StrCat(view(doing), ": ", view(remedy), remedy.empty() ? "" : " (",
                                 view(message), ", SQLite code ", code, remedy.empty() ? "" : ")"));
  return (code & 0xff) == SQLITE_NOMEM ? OutOfMemory(std::move(status)) : status;
}

absl::StatusOr<std::unique_ptr<SqliteStatement>> SqliteStatement::Prepare(sqlite3* database,
                                                                          const Sql& sql) {
  std::unique_ptr<SqliteStatement> result(new SqliteStatement(database, sql.name));
  sqlite3_stmt* statement = nullptr;
  const int code =
      sqlite3_prepare_v3(database, sql.text, -1, SQLITE_PREPARE_PERSISTENT, &statement, nullptr);
  result->statement_.reset(statement);
  if (code != SQLITE_OK) return result->Failed(code);
  if (absl::Status status = result->ResolveParameters(); !status.ok()) return status;
  return result;
}

// SQLite numbers $1, $2, ... by first appearance and takes them for names: the names decide.
absl::Status SqliteStatement::ResolveParameters() {
  const int count = sqlite3_bind_parameter_count(statement_.get());
  for (int number = 1; number <= count; ++number) {
    const int index =
        sqlite3_bind_parameter_index(statement_.get(), absl::StrCat("$", number).c_str());
    if (index == 0) {
      return absl::InternalError(
          absl::StrCat("statement ", name_, ": has ", count, " parameters, but no $", number));
    }
    index_.push_back(index);
  }
  return absl::OkStatus();
}

int SqliteStatement::Bind(int index, const Value& value) {
  // An empty text or blob needs an address all the same: SQLite makes NULL of none.
  const std::string_view bytes = value.bytes();
  const char* const data = bytes.data() == nullptr ? "" : bytes.data();
  switch (value.kind()) {
    case Value::Kind::kNull:
      return sqlite3_bind_null(statement_.get(), index);
    case Value::Kind::kInt:
      return sqlite3_bind_int64(statement_.get(), index, value.int_value());
    case Value::Kind::kText:
      return sqlite3_bind_text64(statement_.get(), index, data, bytes.size(), SQLITE_STATIC,
                                 SQLITE_UTF8);
    case Value::Kind::kBlob:
      return sqlite3_bind_blob64(statement_.get(), index, data, bytes.size(), SQLITE_STATIC);
  }
  return SQLITE_MISUSE;
}

int SqliteStatement::StepAll(size_t which, ManyRowFn on_row) {
  const SqliteRow row(statement_.get());
  int code = sqlite3_step(statement_.get());
  for (; code == SQLITE_ROW; code = sqlite3_step(statement_.get())) on_row(which, row);
  return code;
}

absl::Status SqliteStatement::Failed(int code) const {
  return SqliteStatus(code, sqlite3_errmsg(database_), absl::StrCat("statement ", name_));
}

absl::Status SqliteStatement::Run(size_t width, std::span<const Value> parameters,
                                  ManyRowFn on_row) {
  if (width != index_.size()) {
    return absl::InternalError(
        absl::StrCat("statement ", name_, ": needs ", index_.size(), " parameters, got ", width));
  }
  absl::Status status;
  size_t which = 0;
  const Value* value = parameters.data();
  do {
    int code = SQLITE_OK;
    for (size_t i = 0; i < width && code == SQLITE_OK; ++i) code = Bind(index_[i], *value++);
    if (code == SQLITE_OK) code = StepAll(which++, on_row);
    if (code != SQLITE_DONE) status = Failed(code);
    sqlite3_reset(statement_.get());  // its code is the step's once more
  } while (status.ok() && value < parameters.data() + parameters.size());
  sqlite3_clear_bindings(statement_.get());  // they point to what the caller owns
  return status;
}

absl::Status SqliteStatement::Run() {
  return Run(0, {}, [](size_t, const Row&) {});
}

}  // namespace ferrule::store
