// Prepared SQLite statements, and what SQLite's result codes mean. Inside core/store only.
//
// The statements are SQLite's own: SQLiteCpp binds by name through a map for each value, which a
// group commit of many rows would feel; here the names are resolved once, when it is prepared.
#pragma once

#include <sqlite3.h>

#include <cstddef>
#include <memory>
#include <span>
#include <string_view>
#include <vector>

#include "absl/status/status.h"
#include "absl/status/statusor.h"
#include "core/store/connection.h"

namespace ferrule::store {

// The status for an extended result code; `doing` says what failed, for instance "statement x".
absl::Status SqliteStatus(int code, std::string_view message, std::string_view doing);

class SqliteStatement {
 public:
  static absl::StatusOr<std::unique_ptr<SqliteStatement>> Prepare(sqlite3* database,
                                                                  const Sql& sql);

  // Runs it once per row of `width` parameters.
  absl::Status Run(size_t width, std::span<const Value> parameters, ManyRowFn on_row);
  // Runs it without parameters and results.
  absl::Status Run();

 private:
  struct Finalize {
    void operator()(sqlite3_stmt* statement) const { sqlite3_finalize(statement); }
  };

  SqliteStatement(sqlite3* database, const char* name) : database_(database), name_(name) {}

  absl::Status ResolveParameters();
  int Bind(int index, const Value& value);
  int StepAll(size_t which, ManyRowFn on_row);
  absl::Status Failed(int code) const;

  sqlite3* const database_;
  const char* const name_;
  std::unique_ptr<sqlite3_stmt, Finalize> statement_;
  std::vector<int> index_;  // SQLite's index of $1, $2, ...
};

}  // namespace ferrule::store
