#include "core/ledger/span_rows.h"

#include "absl/hash/hash.h"
#include "core/ledger/queries.h"

namespace ferrule::ledger {
namespace {

using store::Value;

void AddKey(int64_t subject_id, const fold::Span& span, std::vector<Value>* row) {
  row->insert(row->end(), {Value::Int(subject_id), Value::Int(span.from_us), Value::Int(span.kind),
                           Value::Text(span.holder), Value::Text(span.detail)});
}

}  // namespace

absl::Status WriteSpanChanges(
    store::Connection& writer,
    const std::vector<std::pair<int64_t, const fold::SpanChanges*>>& changes) {
  std::vector<Value> dropped;
  std::vector<Value> ended;
  std::vector<Value> voided;
  std::vector<Value> begun;
  for (const auto& [id, change] : changes) {
    if (change->all) dropped.push_back(Value::Int(id));
    for (const fold::Span& span : change->ended) {
      if (span.from_us < span.to_us) {
        ended.push_back(Value::Int(span.to_us));
        AddKey(id, span, &ended);
      } else {
        AddKey(id, span, &voided);
      }
    }
    for (const fold::Span& span : change->begun) {
      begun.insert(begun.end(),
                   {Value::Int(id), Value::Int(span.kind), Value::Int(span.from_us),
                    Value::Int(span.to_us), Value::Text(span.holder), Value::Text(span.detail),
                    Value::Text(span.lot), Value::Text(span.fact), Value::Int(span.piece_count)});
    }
  }
  absl::Status status = writer.RunMany(sql::kDropSpansOfSubject, 1, dropped);
  if (status.ok()) status = writer.RunMany(sql::kEndSpan, 6, ended);
  if (status.ok()) status = writer.RunMany(sql::kVoidSpan, 5, voided);
  if (status.ok()) status = writer.RunMany(sql::kAddSpan, 9, begun);
  return status;
}

fold::Span SpanFromRow(const store::Row& row, int column) {
  fold::Span span;
  span.kind = static_cast<v1::SpanKind>(row.Int(column));
  span.from_us = row.Int(column + 1);
  span.to_us = row.Int(column + 2);
  span.holder = row.Bytes(column + 3);
  span.detail = row.Bytes(column + 4);
  span.lot = row.Bytes(column + 5);
  span.fact = row.Bytes(column + 6);
  span.piece_count = row.Int(column + 7);
  return span;
}

uint64_t MixSpan(int64_t subject_id, const fold::Span& span) {
  return absl::HashOf(subject_id, static_cast<int>(span.kind), span.from_us, span.to_us,
                      span.holder, span.detail, span.lot, span.fact, span.piece_count);
}

}  // namespace ferrule::ledger
