// Spans as rows of the intervals table.
#pragma once

#include <cstdint>
#include <string>
#include <string_view>
#include <utility>
#include <vector>

#include "absl/status/status.h"
#include "core/fold/spans.h"
#include "core/store/connection.h"

namespace ferrule::ledger {

// Writes what changed of each subject, by its row in the states; inside the caller's transaction.
absl::Status WriteSpanChanges(
    store::Connection& writer,
    const std::vector<std::pair<int64_t, const fold::SpanChanges*>>& changes);

// A row read with the columns kind, from_us, to_us, holder, detail, lot, fact, piece_count,
// beginning at `column`.
fold::Span SpanFromRow(const store::Row& row, int column);

// Spans as bytes one after the other, a fraction of their size in memory.
void PackSpan(const fold::Span& span, std::string* bytes);
std::vector<fold::Span> UnpackSpans(std::string_view bytes);

// Stands for a subject's spans in any order: a row more, less or changed shows in it.
struct SpanSum {
  uint64_t sum = 0;
  int64_t count = 0;

  void Add(const fold::Span& span);
  bool operator==(const SpanSum&) const = default;
};

}  // namespace ferrule::ledger
