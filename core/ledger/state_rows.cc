// States as rows of the database.
#include "core/fold/columns.h"
#include "core/ledger/group.h"
#include "core/ledger/parallel.h"
#include "core/ledger/queries.h"

namespace ferrule::ledger {
namespace {

using store::Value;

Value OptionalInt(const std::optional<int64_t>& value) {
  return value.has_value() ? Value::Int(*value) : Value::Null();
}

}  // namespace

absl::Status WriteStateRows(store::Connection& writer, const depot::SettingsBook& book,
                            const std::vector<StateRow>& rows) {
  std::vector<std::string> bytes(rows.size());
  std::vector<fold::Columns> columns(rows.size());
  InParallel(rows.size(), [&](size_t begin, size_t end) {
    for (size_t i = begin; i < end; ++i) {
      rows[i].state->SerializeToString(&bytes[i]);
      columns[i] = fold::ColumnsOf(*rows[i].state, book);
    }
  });
  std::vector<Value> whole;
  std::vector<Value> bytes_only;
  for (size_t i = 0; i < rows.size(); ++i) {
    const StateRow& row = rows[i];
    const fold::Columns& c = columns[i];
    if (row.old != nullptr && fold::ColumnsOf(*row.old, book) == c) {
      bytes_only.insert(bytes_only.end(),
                        {Value::Blob(bytes[i]), Value::Int(row.sequence), Value::Int(row.id)});
      continue;
    }
    whole.insert(
        whole.end(),
        {Value::Int(row.id),           Value::Text(row.state->name()), Value::Int(c.kind),
         Value::Int(row.sequence),     Value::Text(c.branch),          Value::Text(c.place),
         Value::Text(c.model),         Value::Text(c.device_class),    Value::Text(c.serial),
         Value::Text(c.partner),       Value::Int(c.custody),          Value::Int(c.hygiene),
         Value::Int(c.condition),      Value::Int(c.commitment),       Value::Int(c.status),
         OptionalInt(c.due_day),       Value::Int(c.due_basis),        OptionalInt(c.needed_day),
         Value::Int(c.failed_pickups), Value::Int(c.questions),        Value::Blob(bytes[i])});
  }
  absl::Status status = writer.Post(sql::kPutState, 21, whole);
  if (!status.ok()) return status;
  return writer.Post(sql::kPutStateBytes, 3, bytes_only);
}

}  // namespace ferrule::ledger
