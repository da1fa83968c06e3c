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

// Positions in kPutState and in kAddSpan; the id is the first in both. From the last sequence on
// kPutStateColumns has the same ones, and then the id.
constexpr size_t kId = 0;
constexpr size_t kName = 1;
constexpr size_t kSerial = 3;
constexpr size_t kLastSequence = 4;
constexpr size_t kPlace = 6;
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

EntryRows::EntryRows(const std::string& depot_file, EntryKind kind)
    : kind_(kind), now_us_(NowMicros()) {
  SQLite::Database database(depot_file, SQLite::OPEN_READWRITE);
  std::vector<Cells> states = RowsOf(
      database,
      "SELECT id, name, kind, serial, last_sequence, branch, place, model, device_class, partner, "
      "custody, hygiene, condition, commitment, status, due_day, due_basis, needed_day, "
      "failed_pickups, questions, state FROM states WHERE kind = 1 ORDER BY id");
  const std::vector<Cells> spans =
      RowsOf(database,
             "SELECT subject_id, i.kind, from_us, to_us, holder, detail, lot, fact, "
             "piece_count FROM intervals i JOIN states s ON s.id = subject_id WHERE s.kind = 1 "
             "AND to_us = 9223372036854775807 ORDER BY subject_id");
  if (spans.size() != states.size()) GiveUp("the units are not each at one place");
  for (size_t i = 0; i < states.size(); ++i) {
    units_.push_back({states[i][0].number, spans[i][kSpanFrom].number, false});
  }
  state_ = states.front();
  span_ = spans.front();
  FillState(states.size() - 1);
  if (state_[kName].bytes != states.back()[kName].bytes ||
      state_[kSerial].bytes != states.back()[kSerial].bytes) {
    GiveUp("the units do not have the tags and numbers that ReceiveUnits gives");
  }
  sequence_ = database.execAndGet("SELECT sequence FROM ledger_head").getInt64();

  v1::LedgerEntry stored;
  stored.set_sequence(sequence_);
  time::SetMicros(now_us_, stored.mutable_recorded_time());
  *stored.mutable_entry() = bench::NextMove(static_cast<int>(states.size()));
  const std::string digest(32, 'd');
  entry_ = {Cell::Int(0),
            Cell::Int(now_us_),
            Cell::Int(0),
            Cell::Blob(digest),
            Cell::Blob(stored.SerializeAsString()),
            Cell()};
  subject_ = {Cell::Int(0), Cell::Int(0), Cell::Int(0), Cell::Int(0)};
  head_ = {Cell::Int(0), Cell::Int(now_us_), Cell::Blob(digest), Cell::Int(0), Cell::Int(now_us_)};
}

// All that differs from unit to unit is as long in each state's bytes, so that those of the first
// stand for all.
void EntryRows::FillState(size_t unit) {
  const Unit& is = units_[unit];
  const std::string tag = UnitTag(static_cast<int64_t>(unit), static_cast<int>(units_.size()));
  const char* place = is.in_van ? "north-van" : "north-dock";
  state_[kId].number = is.id;
  state_[kName].bytes = "units/" + tag;
  state_[kSerial].bytes = "S-" + tag;
  state_[kLastSequence].number = sequence_;
  state_[kPlace].bytes = place;
  span_[kId].number = is.id;
  span_[kSpanFrom].number = is.from_us;
  span_[kSpanHolder].bytes = std::string("places/") + place;
}

std::vector<Write> EntryRows::Before() {
  before_.clear();
  for (size_t i = 0; i < units_.size(); ++i) {
    FillState(i);
    before_.push_back(state_);
    before_.push_back(span_);
  }
  std::vector<Write> writes;
  for (size_t i = 0; i < before_.size(); i += 2) {
    writes.push_back(Of(ledger::sql::kPutState, &before_[i]));
    writes.push_back(Of(ledger::sql::kAddSpan, &before_[i + 1]));
  }
  return writes;
}

int64_t EntryRows::Key() const {
  const uint64_t hash = static_cast<uint64_t>(sequence_) * 0x9e3779b97f4a7c15u;
  if (kind_.ids == Ids::kForeign) return static_cast<int64_t>(hash);
  return sequence_ * kBetweenIdsUs / 1000 << 20 | static_cast<int64_t>(hash >> 44);
}

// The entry itself, and that it is about the unit.
void EntryRows::Begin(size_t unit, int kind) {
  ++sequence_;
  ++now_us_;
  entry_[0].number = sequence_;
  entry_[2].number = Key();
  subject_[0].number = units_[unit].id;
  subject_[1].number = sequence_;
  subject_[3].number = kind;
  writes_ = {Of(ledger::sql::kAddEntry, &entry_), Of(ledger::sql::kAddFactSubject, &subject_)};
}

const std::vector<Write>& EntryRows::Next() {
  const auto unit = static_cast<size_t>(count_++) % units_.size();
  if (kind_.said == Said::kMoved) return NextMove(unit);
  Begin(unit, v1::Fact::kMeterRead);
  state_bytes_ = {state_[kState], Cell::Int(sequence_), Cell::Int(units_[unit].id)};
  writes_.push_back(Of(ledger::sql::kPutStateBytes, &state_bytes_));
  return writes_;
}

const std::vector<Write>& EntryRows::NextMove(size_t unit) {
  Begin(unit, v1::Fact::kUnitMoved);
  FillState(unit);
  ended_ = {Cell::Int(now_us_), span_[kId],         span_[kSpanFrom],
            span_[kSpanKind],   span_[kSpanHolder], span_[kSpanDetail]};
  units_[unit].in_van = !units_[unit].in_van;
  units_[unit].from_us = now_us_;
  FillState(unit);
  columns_.assign(state_.begin() + kLastSequence, state_.end());
  columns_.push_back(state_[kId]);
  writes_.insert(writes_.end(),
                 {Of(ledger::sql::kPutStateColumns, &columns_), Of(ledger::sql::kEndSpan, &ended_),
                  Of(ledger::sql::kAddSpan, &span_)});
  return writes_;
}

const std::vector<Write>& EntryRows::NextReceived() {
  units_.push_back({units_.back().id + 1, now_us_ + 1, false});
  Begin(units_.size() - 1, v1::Fact::kUnitReceived);
  FillState(units_.size() - 1);
  writes_.insert(writes_.end(),
                 {Of(ledger::sql::kPutState, &state_), Of(ledger::sql::kAddSpan, &span_)});
  return writes_;
}

Write EntryRows::Head() {
  head_[0].number = sequence_;
  head_[3].number = units_.back().id + 1;
  return Of(ledger::sql::kPutHead, &head_);
}

}  // namespace ferrule::bench
