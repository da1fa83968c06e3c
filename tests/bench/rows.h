// The rows that recorded entries write, for writing them without any of our code.
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

// What the entries say: a unit has moved, which ends one interval and begins another and changes
// what its state is found by; or its meter was read, which changes the state alone.
enum class Said { kMoved, kMeterRead };

// The state and interval rows of a depot's units, and with them the writes of any number of
// entries.
class EntryRows {
 public:
  // Reads a depot file that ReceiveUnits filled.
  EntryRows(const std::string& depot_file, Said said);

  // What the writes expect to find: parameters of ledger::sql::kPutState and of kAddSpan, one each
  // a unit.
  std::vector<Write> Before() const;
  // Prepares the writes of the next entry. Valid until the next call.
  const std::vector<Write>& Next();
  // The head after the last entry: what ends a group.
  Write Head();

 private:
  void Move(size_t unit);
  void Read(size_t unit);

  const Said said_;
  std::vector<Cells> states_;
  std::vector<Cells> spans_;
  int64_t sequence_;
  int64_t count_ = 0;
  int64_t now_us_;
  Cells entry_, subject_, head_, ended_, state_bytes_;
  std::vector<Write> writes_;
};

}  // namespace ferrule::bench
