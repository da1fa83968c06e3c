// The spans that a depot has stored of a subject, as one text.
#pragma once

#include <algorithm>
#include <string>
#include <vector>

#include "absl/strings/str_cat.h"
#include "core/ledger/ledger.h"
#include "core/ledger/span_rows.h"

namespace ferrule::testing {

inline std::string TextOf(const fold::Span& span) {
  return absl::StrCat(v1::SpanKind_Name(span.kind), " ", span.from_us, " ", span.to_us, " ",
                      span.holder, " ", span.detail, " ", span.lot, " ", span.fact, " ",
                      span.piece_count, "\n");
}

inline std::string StoredSpans(ledger::Ledger& ledger, const std::string& name) {
  static constexpr store::Sql kSpans{
      "stored_spans",
      "SELECT i.kind, i.from_us, i.to_us, i.holder, i.detail, i.lot, i.fact, i.piece_count "
      "FROM intervals i JOIN states s ON s.id = i.subject_id WHERE s.name = $1"};
  std::vector<std::string> lines;
  const store::Value parameters[] = {store::Value::Text(name)};
  const absl::Status status = ledger.WithReader([&](store::Connection& connection) {
    return connection.Run(kSpans, parameters, [&](const store::Row& row) {
      lines.push_back(TextOf(ledger::SpanFromRow(row, 0)));
    });
  });
  if (!status.ok()) return std::string(status.message());
  std::sort(lines.begin(), lines.end());
  std::string out;
  for (const std::string& line : lines) out += line;
  return out;
}

}  // namespace ferrule::testing
