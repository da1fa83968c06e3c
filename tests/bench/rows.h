// The rows that recorded entries write, for writing them without any of our code.
#pragma once

#include <cstdint>
#include <string>
#include <vector>

#include "tests/bench/measure.h"

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

struct EntryKind {
  Said said;
  Ids ids = Ids::kTimed;
};

// The state and interval rows of a depot's units, and with them the writes of any number of
// entries.
class EntryRows {
 public:
  // Reads a depot file that ReceiveUnits filled. `kind` of the entries that go through the units.
  EntryRows(const std::string& depot_file, EntryKind kind);

  // What the writes expect to find: parameters of ledger::sql::kPutState and of kAddSpan, one each
  // a unit.
  std::vector<Write> Before();
  // Prepares the writes of the next entry, the units in turn. Valid until the next call.
  const std::vector<Write>& Next();
  // The same for a unit that moves, and for one that comes in.
  const std::vector<Write>& NextMove(size_t unit);
  const std::vector<Write>& NextReceived();
  // The head after the last entry: what ends a group.
  Write Head();

 private:
  // What tells units apart: their rows are alike otherwise.
  struct Unit {
    int64_t id = 0;
    int64_t from_us = 0;  // of the interval that lasts
    bool in_van = false;
  };

  void FillState(size_t unit);  // state_ and span_ become the unit's
  void Begin(size_t unit, int kind);
  int64_t Key() const;  // of the entry that is begun

  const EntryKind kind_;
  std::vector<Unit> units_;
  int64_t sequence_;
  int64_t count_ = 0;
  int64_t now_us_;
  Cells entry_, subject_, head_, ended_, state_bytes_, state_, columns_, span_;
  std::vector<Cells> before_;
  std::vector<Write> writes_;
};

}  // namespace ferrule::bench
