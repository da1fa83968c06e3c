// Spans as rows of the intervals table.
#pragma once

#include <cstdint>
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

// A number that stands for one row of a subject; sums of these tell whether two sets of rows are
// the same.
uint64_t MixSpan(int64_t subject_id, const fold::Span& span);

}  // namespace ferrule::ledger
