// Values on PostgreSQL's wire, and what its SQLSTATEs mean. Inside core/store only.
#pragma once

#include <array>
#include <cstdint>
#include <memory>
#include <span>
#include <string_view>
#include <vector>

#include "absl/status/status.h"
#include "core/store/connection.h"
#include "core/store/libpq.h"

namespace ferrule::store {

struct ClearResult {
  void operator()(PGresult* result) const { libpq.PQclear(result); }
};
using PgResult = std::unique_ptr<PGresult, ClearResult>;

// The type that a parameter of this kind is declared with; 0 lets the engine infer it.
Oid TypeOf(Value::Kind kind);

// One row of parameters as libpq takes them; the buffers are used again row by row. `types` are
// the prepared statement's.
class PgParameters {
 public:
  explicit PgParameters(std::span<const Oid> types);
  // Text and blobs are borrowed from the values.
  void Set(std::span<const Value> values);

  int size() const { return int(types_.size()); }
  const char* const* values() const { return values_.data(); }
  const int* lengths() const { return lengths_.data(); }
  const int* formats() const { return formats_.data(); }

 private:
  void SetInt(size_t i, int64_t value);

  std::span<const Oid> types_;
  std::vector<std::array<char, 24>> numbers_;
  std::vector<const char*> values_;
  std::vector<int> lengths_;
  std::vector<int> formats_;
};

// Internal, naming the column, when a result has a column that Row cannot give.
absl::Status CheckColumns(const PGresult* description, const char* statement);

// A row of a result in binary format.
class PgRow final : public Row {
 public:
  PgRow(const PGresult* result, int row) : result_(result), row_(row) {}
  bool IsNull(int column) const override { return libpq.PQgetisnull(result_, row_, column) != 0; }
  int64_t Int(int column) const override;
  std::string_view Bytes(int column) const override {
    return {libpq.PQgetvalue(result_, row_, column),
            size_t(libpq.PQgetlength(result_, row_, column))};
  }

 private:
  const PGresult* result_;
  int row_;
};

// The status of a failed result; `doing` says what failed. Without a SQLSTATE the connection is
// what failed.
absl::Status PgStatus(const PGresult* result, std::string_view doing);

}  // namespace ferrule::store
