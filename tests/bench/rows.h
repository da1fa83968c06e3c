// The rows that one recorded move writes, for writing them without any of our code.
#pragma once

#include <cstdint>
#include <string>
#include <vector>

namespace ferrule::bench {

struct Cell {
  enum class Kind { kNull, kInt, kText, kBlob };
  Kind kind = Kind::kNull;
  int64_t number = 0;
  std::string bytes;

  static Cell Int(int64_t number) { return {Kind::kInt, number, ""}; }
  static Cell Text(std::string text) { return {Kind::kText, 0, std::move(text)}; }
  static Cell Blob(std::string bytes) { return {Kind::kBlob, 0, std::move(bytes)}; }
};
using Cells = std::vector<Cell>;

// One statement and its parameters.
struct Write {
  const char* name;
  const char* sql;
  const Cells* cells;
};

// The state rows of a depot's units, and with them the writes of any number of entries.
class MoveRows {
 public:
  // Reads a depot file that ReceiveUnits filled.
  explicit MoveRows(const std::string& depot_file);

  // Parameters of ledger::sql::kPutState, one a unit.
  const std::vector<Cells>& states() const { return states_; }
  // Prepares the writes of the next entry: the entry, its subject, the unit's state in the other
  // place. Valid until the next call.
  const std::vector<Write>& Next();
  // The head after the last entry: what ends a group.
  Write Head();

 private:
  std::vector<Cells> states_;
  int64_t sequence_;
  int64_t count_ = 0;
  Cells entry_, subject_, head_;
  std::vector<Write> writes_;
};

}  // namespace ferrule::bench
