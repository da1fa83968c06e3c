// Rows of units, stock, readings and test results as facts: a row is a fact, but the items of one
// test stand in rows of their own, one after the other.
#pragma once

#include <cstdint>
#include <optional>
#include <string>
#include <vector>

#include "core/exchange/csv.h"
#include "core/exchange/csv_fields.h"
#include "core/intake/import_part.h"
#include "ferrule/v1/facts.pb.h"
#include "ferrule/v1/intake.pb.h"
#include "ferrule/v1/intake_service.pb.h"

namespace ferrule::intake {

struct FactOfRows {
  v1::Fact fact;
  std::vector<int64_t> lines;
  RowPlace place;    // of its first row
  std::string text;  // what the rows say, whatever the order of their columns
};

// What was read of a file up to a place: facts, and rows that are none with the reason.
struct ReadRows {
  std::vector<FactOfRows> facts;
  std::vector<v1::BadRow> bad;
  std::optional<RowPlace> left;  // where a test begins that may go on, left for the next time
};

class FactRows {
 public:
  // All three must outlive it.
  FactRows(v1::ImportKind kind, const ImportPart& part, const exchange::RowOptions& options)
      : kind_(kind), part_(part), options_(options) {}

  void Read(const exchange::CsvRecord& record);
  size_t fact_count() const { return read_.facts.size(); }

  // Gives what has been read and begins anew. Unless `whole`, the last test stays when there is
  // something to give before it: the next row may belong to it.
  ReadRows Take(bool whole);

 private:
  void Reject(int64_t line, const v1::Trouble& trouble);
  void AddReading(int64_t line, const v1::Reading& reading, const std::string& text);

  const v1::ImportKind kind_;
  const ImportPart& part_;
  const exchange::RowOptions& options_;
  ReadRows read_;
  bool given_ = false;
};

}  // namespace ferrule::intake
