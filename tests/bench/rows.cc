#include "tests/bench/rows.h"

#include "SQLiteCpp/SQLiteCpp.h"
#include "core/ledger/queries.h"
#include "core/store/connection.h"
#include "core/time/civil.h"
#include "ferrule/v1/ledger_service.pb.h"
#include "tests/bench/depots.h"
#include "tests/bench/process.h"

namespace ferrule::bench {
namespace {

// Positions in kPutState and in kAddSpan.
constexpr size_t kLastSequence = 3;
constexpr size_t kPlace = 5;
constexpr size_t kState = 20;
constexpr size_t kSpanKind = 1;
constexpr size_t kSpanFrom = 2;
constexpr size_t kSpanHolder = 4;
constexpr size_t kSpanDetail = 5;

Cell CellOf(const SQLite::Column& column) {
  if (column.isNull()) return {};
  if (column.isInteger()) return Cell::Int(column.getInt64());
  const std::string bytes(static_cast<const char*>(column.getBlob()),
                          static_cast<size_t>(column.getBytes()));
  return column.isText() ? Cell::Text(bytes) : Cell::Blob(bytes);
}

std::vector<Cells> RowsOf(SQLite::Database& database, const char* sql) {
  std::vector<Cells> rows;
  SQLite::Statement select(database, sql);
  while (select.executeStep()) {
    Cells& row = rows.emplace_back();
    for (int i = 0; i < select.getColumnCount(); ++i) row.push_back(CellOf(select.getColumn(i)));
  }
  return rows;
}

Write Of(const store::Sql& sql, const Cells* cells) { return {sql.name, sql.text, cells}; }

}  // namespace

EntryRows::EntryRows(const std::string& depot_file, Said said) : said_(said), now_us_(NowMicros()) {
  SQLite::Database database(depot_file, SQLite::OPEN_READWRITE);
  states_ = RowsOf(
      database,
      "SELECT id, name, kind, last_sequence, branch, place, model, device_class, serial, partner, "
      "custody, hygiene, condition, commitment, status, due_day, due_basis, needed_day, "
      "failed_pickups, questions, state FROM states WHERE kind = 1 ORDER BY id");
  spans_ =
      RowsOf(database,
             "SELECT subject_id, i.kind, from_us, to_us, holder, detail, lot, fact, "
             "piece_count FROM intervals i JOIN states s ON s.id = subject_id WHERE s.kind = 1 "
             "AND to_us = 9223372036854775807 ORDER BY subject_id");
  if (spans_.size() != states_.size()) GiveUp("the units are not each at one place");
  sequence_ = database.execAndGet("SELECT sequence FROM ledger_head").getInt64();

  v1::LedgerEntry stored;
  stored.set_sequence(sequence_);
  time::SetMicros(now_us_, stored.mutable_recorded_time());
  *stored.mutable_entry() = NextMove(static_cast<int>(states_.size()));
  const std::string digest(32, 'd');
  entry_ = {Cell::Int(0),
            Cell::Int(now_us_),
            Cell::Int(0),
            Cell::Blob(digest),
            Cell::Blob(stored.SerializeAsString()),
            Cell()};
  subject_ = {Cell::Int(0), Cell::Int(0), Cell::Int(0), Cell::Int(v1::Fact::kUnitMoved)};
  head_ = {Cell::Int(0), Cell::Int(now_us_), Cell::Blob(digest),
           Cell::Int(static_cast<int64_t>(states_.size()) + 2), Cell::Int(now_us_)};
  writes_ = {Of(ledger::sql::kAddEntry, &entry_), Of(ledger::sql::kAddFactSubject, &subject_)};
  if (said_ == Said::kMoved) {
    writes_.insert(writes_.end(),
                   {Of(ledger::sql::kPutState, nullptr), Of(ledger::sql::kEndSpan, &ended_),
                    Of(ledger::sql::kAddSpan, nullptr)});
  } else {
    writes_.push_back(Of(ledger::sql::kPutStateBytes, &state_bytes_));
  }
}

std::vector<Write> EntryRows::Before() const {
  std::vector<Write> writes;
  for (const Cells& state : states_) writes.push_back(Of(ledger::sql::kPutState, &state));
  for (const Cells& span : spans_) writes.push_back(Of(ledger::sql::kAddSpan, &span));
  return writes;
}

const std::vector<Write>& EntryRows::Next() {
  const auto unit = static_cast<size_t>(count_) % states_.size();
  ++sequence_;
  ++now_us_;
  entry_[0].number = sequence_;
  // Keys of entries are hashes: they fall anywhere in their index.
  entry_[2].number = static_cast<int64_t>(static_cast<uint64_t>(sequence_) * 0x9e3779b97f4a7c15u);
  subject_[0].number = states_[unit][0].number;
  subject_[1].number = sequence_;
  said_ == Said::kMoved ? Move(unit) : Read(unit);
  ++count_;
  return writes_;
}

void EntryRows::Move(size_t unit) {
  Cells& state = states_[unit];
  Cells& span = spans_[unit];
  const bool to_van = (count_ / static_cast<int64_t>(states_.size())) % 2 == 0;
  state[kLastSequence].number = sequence_;
  state[kPlace].bytes = to_van ? "north-van" : "north-dock";
  ended_ = {Cell::Int(now_us_), span[0],           span[kSpanFrom],
            span[kSpanKind],    span[kSpanHolder], span[kSpanDetail]};
  span[kSpanFrom].number = now_us_;
  span[kSpanHolder].bytes = "places/" + state[kPlace].bytes;
  writes_[2].cells = &state;
  writes_[4].cells = &span;
}

void EntryRows::Read(size_t unit) {
  const Cells& state = states_[unit];
  state_bytes_ = {state[kState], Cell::Int(sequence_), state[0]};
}

Write EntryRows::Head() {
  head_[0].number = sequence_;
  return Of(ledger::sql::kPutHead, &head_);
}

}  // namespace ferrule::bench
