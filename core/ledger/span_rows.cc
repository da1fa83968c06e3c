#include "core/ledger/span_rows.h"

#include <cstring>

#include "absl/hash/hash.h"
#include "absl/strings/string_view.h"
#include "core/ledger/queries.h"

namespace ferrule::ledger {
namespace {

using store::Value;

constexpr size_t kSpanColumns = 9;

void AddKey(int64_t subject_id, const fold::Span& span, std::vector<Value>* row) {
  row->insert(row->end(), {Value::Int(subject_id), Value::Int(span.from_us), Value::Int(span.kind),
                           Value::Text(span.holder), Value::Text(span.detail)});
}

void PackInt(int64_t value, std::string* bytes) {
  bytes->append(reinterpret_cast<const char*>(&value), sizeof value);
}

int64_t UnpackInt(std::string_view* bytes) {
  int64_t value = 0;
  std::memcpy(&value, bytes->data(), sizeof value);
  bytes->remove_prefix(sizeof value);
  return value;
}

}  // namespace

absl::Status WriteSpanChanges(
    store::Connection& writer,
    const std::vector<std::pair<int64_t, const fold::SpanChanges*>>& changes) {
  std::vector<Value> dropped;
  std::vector<Value> ended;
  std::vector<Value> voided;
  std::vector<Value> begun;
  size_t begun_count = 0;
  for (const auto& [id, change] : changes) begun_count += change->begun.size();
  begun.reserve(begun_count * kSpanColumns);
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
  absl::Status status = writer.Post(sql::kDropSpansOfSubject, 1, dropped);
  if (status.ok()) status = writer.Post(sql::kEndSpan, 6, ended);
  if (status.ok()) status = writer.Post(sql::kVoidSpan, 5, voided);
  if (status.ok()) status = writer.Post(sql::kAddSpan, kSpanColumns, begun);
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

void PackSpan(const fold::Span& span, std::string* bytes) {
  PackInt(span.kind, bytes);
  PackInt(span.from_us, bytes);
  PackInt(span.to_us, bytes);
  PackInt(span.piece_count, bytes);
  for (const std::string* text : {&span.holder, &span.detail, &span.lot, &span.fact}) {
    PackInt(static_cast<int64_t>(text->size()), bytes);
    bytes->append(*text);
  }
}

std::vector<fold::Span> UnpackSpans(std::string_view bytes) {
  std::vector<fold::Span> spans;
  while (!bytes.empty()) {
    fold::Span& span = spans.emplace_back();
    span.kind = static_cast<v1::SpanKind>(UnpackInt(&bytes));
    span.from_us = UnpackInt(&bytes);
    span.to_us = UnpackInt(&bytes);
    span.piece_count = UnpackInt(&bytes);
    for (std::string* text : {&span.holder, &span.detail, &span.lot, &span.fact}) {
      const auto size = static_cast<size_t>(UnpackInt(&bytes));
      text->assign(bytes.substr(0, size));
      bytes.remove_prefix(size);
    }
  }
  return spans;
}

void SpanSum::Add(const fold::Span& span) {
  std::string bytes;
  PackSpan(span, &bytes);
  sum += absl::HashOf(absl::string_view(bytes));
  ++count;
}

}  // namespace ferrule::ledger
