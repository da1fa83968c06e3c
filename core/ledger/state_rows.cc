#include "core/ledger/state_rows.h"

#include <optional>

#include "core/ledger/parallel.h"
#include "core/ledger/queries.h"

namespace ferrule::ledger {
namespace {

using store::Value;

Value OptionalInt(const std::optional<int64_t>& value) {
  return value.has_value() ? Value::Int(*value) : Value::Null();
}

// What kPutState and kPutStateColumns have in common.
void AddColumns(int64_t sequence, std::string_view state, const fold::Columns& c,
                std::vector<Value>* row) {
  row->insert(row->end(),
              {Value::Int(sequence), Value::Text(c.branch), Value::Text(c.place),
               Value::Text(c.model), Value::Text(c.device_class), Value::Text(c.partner),
               Value::Int(c.custody), Value::Int(c.hygiene), Value::Int(c.condition),
               Value::Int(c.commitment), Value::Int(c.status), OptionalInt(c.due_day),
               Value::Int(c.due_basis), OptionalInt(c.needed_day), Value::Int(c.failed_pickups),
               Value::Int(c.questions), Value::Blob(state)});
}

}  // namespace

void StateRows::Add(int64_t id, int64_t sequence, std::string_view name, std::string_view state,
                    const fold::Columns& c) {
  whole_.insert(whole_.end(),
                {Value::Int(id), Value::Text(name), Value::Int(c.kind), Value::Text(c.serial)});
  AddColumns(sequence, state, c, &whole_);
}

void StateRows::AddChanged(int64_t id, int64_t sequence, std::string_view state,
                           const fold::Columns& c) {
  AddColumns(sequence, state, c, &changed_);
  changed_.push_back(Value::Int(id));
}

void StateRows::AddBytes(int64_t id, int64_t sequence, std::string_view state) {
  bytes_only_.insert(bytes_only_.end(), {Value::Blob(state), Value::Int(sequence), Value::Int(id)});
}

absl::Status StateRows::Write(store::Connection& writer) const {
  absl::Status status = writer.Post(sql::kPutState, 21, whole_);
  if (status.ok()) status = writer.Post(sql::kPutStateColumns, 18, changed_);
  if (status.ok()) status = writer.Post(sql::kPutStateBytes, 3, bytes_only_);
  return status;
}

absl::Status WriteStates(store::Connection& writer, const depot::SettingsBook& book,
                         const std::vector<StateChange>& changes) {
  std::vector<std::string> bytes(changes.size());
  std::vector<fold::Columns> columns(changes.size());
  InParallel(changes.size(), [&](size_t begin, size_t end) {
    for (size_t i = begin; i < end; ++i) {
      changes[i].state->SerializeToString(&bytes[i]);
      columns[i] = fold::ColumnsOf(*changes[i].state, book);
    }
  });
  StateRows rows;
  for (size_t i = 0; i < changes.size(); ++i) {
    const StateChange& change = changes[i];
    if (change.old == nullptr) {
      rows.Add(change.id, change.sequence, change.state->name(), bytes[i], columns[i]);
      continue;
    }
    const fold::Columns old = fold::ColumnsOf(*change.old, book);
    if (old == columns[i]) {
      rows.AddBytes(change.id, change.sequence, bytes[i]);
    } else if (old.serial == columns[i].serial) {
      rows.AddChanged(change.id, change.sequence, bytes[i], columns[i]);
    } else {
      rows.Add(change.id, change.sequence, change.state->name(), bytes[i], columns[i]);
    }
  }
  return rows.Write(writer);
}

}  // namespace ferrule::ledger
