#include "tests/bench/rows.h"

#include "SQLiteCpp/SQLiteCpp.h"
#include "core/ledger/queries.h"
#include "core/time/civil.h"
#include "ferrule/v1/ledger_service.pb.h"
#include "tests/bench/depots.h"

namespace ferrule::bench {
namespace {

constexpr size_t kLastSequence = 3;  // positions in kPutState
constexpr size_t kPlace = 5;

Cell CellOf(const SQLite::Column& column) {
  if (column.isNull()) return {};
  if (column.isInteger()) return Cell::Int(column.getInt64());
  const std::string bytes(static_cast<const char*>(column.getBlob()),
                          static_cast<size_t>(column.getBytes()));
  return column.isText() ? Cell::Text(bytes) : Cell::Blob(bytes);
}

}  // namespace

MoveRows::MoveRows(const std::string& depot_file) {
  SQLite::Database database(depot_file, SQLite::OPEN_READWRITE);
  SQLite::Statement states(
      database,
      "SELECT id, name, kind, last_sequence, branch, place, model, device_class, serial, partner, "
      "custody, hygiene, condition, commitment, status, due_day, due_basis, needed_day, "
      "failed_pickups, questions, state FROM states WHERE kind = 1 ORDER BY id");
  while (states.executeStep()) {
    Cells row;
    for (int i = 0; i < states.getColumnCount(); ++i) row.push_back(CellOf(states.getColumn(i)));
    states_.push_back(std::move(row));
  }
  sequence_ = database.execAndGet("SELECT sequence FROM ledger_head").getInt64();

  v1::LedgerEntry stored;
  stored.set_sequence(sequence_);
  time::SetMicros(NowMicros(), stored.mutable_recorded_time());
  *stored.mutable_entry() = NextMove(static_cast<int>(states_.size()));
  const std::string digest(32, 'd');
  entry_ = {Cell::Int(0),
            Cell::Int(NowMicros()),
            Cell::Int(0),
            Cell::Blob(digest),
            Cell::Blob(stored.SerializeAsString()),
            Cell()};
  subject_ = {Cell::Int(0), Cell::Int(0), Cell::Int(0), Cell::Int(v1::Fact::kUnitMoved)};
  head_ = {Cell::Int(0), Cell::Int(NowMicros()), Cell::Blob(digest),
           Cell::Int(static_cast<int64_t>(states_.size()) + 2), Cell::Int(NowMicros())};
  writes_ = {{ledger::sql::kAddEntry.name, ledger::sql::kAddEntry.text, &entry_},
             {ledger::sql::kAddFactSubject.name, ledger::sql::kAddFactSubject.text, &subject_},
             {ledger::sql::kPutState.name, ledger::sql::kPutState.text, nullptr}};
}

const std::vector<Write>& MoveRows::Next() {
  const auto units = static_cast<int64_t>(states_.size());
  Cells& state = states_[static_cast<size_t>(count_ % units)];
  ++sequence_;
  entry_[0].number = sequence_;
  // Keys of entries are hashes: they fall anywhere in their index.
  entry_[2].number = static_cast<int64_t>(static_cast<uint64_t>(sequence_) * 0x9e3779b97f4a7c15u);
  subject_[0].number = state[0].number;
  subject_[1].number = sequence_;
  state[kLastSequence].number = sequence_;
  state[kPlace].bytes = (count_ / units) % 2 == 0 ? "north-van" : "north-dock";
  writes_[2].cells = &state;
  ++count_;
  return writes_;
}

Write MoveRows::Head() {
  head_[0].number = sequence_;
  return {ledger::sql::kPutHead.name, ledger::sql::kPutHead.text, &head_};
}

}  // namespace ferrule::bench
