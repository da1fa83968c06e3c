// Entries a second when nothing is done but writing their rows, `group` entries a transaction.
#pragma once

#include <functional>
#include <memory>
#include <string>
#include <vector>

#include "tests/bench/measure.h"
#include "tests/bench/rows.h"

namespace ferrule::bench {

// The writes of one entry after the other.
using NextWrites = std::function<const std::vector<Write>&()>;

// A depot file that ReceiveUnits filled, written by SQLite alone: write-ahead log, synchronous
// FULL.
class SqliteRows {
 public:
  SqliteRows(const std::string& depot_file, EntryKind kind);
  ~SqliteRows();

  // One transaction.
  void Group(int size, const NextWrites& next);

  EntryRows rows;

 private:
  class Writer;
  const std::unique_ptr<Writer> writer_;
};

// On a copy of that depot file, which ReceiveUnits filled.
double SqliteRowsPerSecond(const Options& options, const std::string& depot_file, EntryKind kind,
                           int group);

// In fresh tables of the options' database, filled with that depot file's states; each group goes
// in one round trip.
double PostgresRowsPerSecond(const Options& options, const std::string& depot_file, EntryKind kind,
                             int group);

}  // namespace ferrule::bench
