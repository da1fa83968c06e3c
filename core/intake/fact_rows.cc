#include "core/intake/fact_rows.h"

#include <algorithm>
#include <iterator>
#include <utility>

#include "absl/strings/str_cat.h"
#include "core/exchange/news.h"
#include "core/time/civil.h"

namespace ferrule::intake {
namespace {

using exchange::TroubleAt;

bool Belongs(const FactOfRows& rows, const v1::Fact& fact) {
  if (!fact.has_inspection_done() || !rows.fact.has_inspection_done()) return false;
  const v1::InspectionDone& a = rows.fact.inspection_done();
  const v1::InspectionDone& b = fact.inspection_done();
  return a.unit() == b.unit() && a.checklist() == b.checklist() && a.tester() == b.tester() &&
         a.checklist_version() == b.checklist_version() &&
         time::ToMicros(rows.fact.happened_time()) == time::ToMicros(fact.happened_time());
}

std::string TextOf(exchange::CsvValues values) {
  std::sort(values.begin(), values.end());
  std::string text;
  for (const auto& [field, value] : values) absl::StrAppend(&text, field, "=", value, "\n");
  return text;
}

}  // namespace

void FactRows::Reject(int64_t line, const v1::Trouble& trouble) {
  read_.bad.push_back(MakeBadRow(line, {trouble}));
}

void FactRows::Read(const exchange::CsvRecord& record) {
  if (!record.wrong.empty()) {
    return Reject(record.line,
                  TroubleAt(v1::TROUBLE_KIND_NOT_READABLE, "", record.wrong, "correct the row"));
  }
  std::vector<v1::Trouble> troubles;
  exchange::CsvValues values = exchange::ValuesOf(part_.layout, record.fields, &troubles);
  exchange::RowFact row;
  if (troubles.empty()) row = exchange::ReadRow(kind_, values, options_);
  std::move(row.troubles.begin(), row.troubles.end(), std::back_inserter(troubles));
  if (!troubles.empty()) {
    read_.bad.push_back(MakeBadRow(record.line, std::move(troubles)));
    return;
  }
  std::string text = TextOf(std::move(values));
  if (!read_.facts.empty() && Belongs(read_.facts.back(), row.fact)) {
    return AddReading(record.line, row.fact.inspection_done().readings(0), text);
  }
  read_.facts.push_back(
      {std::move(row.fact), {record.line}, {record.offset, record.line}, std::move(text)});
}

void FactRows::AddReading(int64_t line, const v1::Reading& reading, const std::string& text) {
  FactOfRows& test = read_.facts.back();
  v1::InspectionDone& done = *test.fact.mutable_inspection_done();
  for (const v1::Reading& earlier : done.readings()) {
    if (earlier.item() != reading.item()) continue;
    return Reject(line, TroubleAt(v1::TROUBLE_KIND_FIELD_INVALID, "item",
                                  "stands twice in one test", "give the last value alone"));
  }
  *done.add_readings() = reading;
  test.lines.push_back(line);
  absl::StrAppend(&test.text, "\n", text);
}

ReadRows FactRows::Take(bool whole) {
  ReadRows out = std::exchange(read_, {});
  const bool may_go_on = kind_ == v1::IMPORT_KIND_TEST_RESULTS && !out.facts.empty();
  // A test of which a whole part is full would never come to an end.
  const bool comes_forward = given_ || out.facts.size() > 1;
  if (!whole && may_go_on && comes_forward) {
    out.left = out.facts.back().place;
    read_.facts.push_back(std::move(out.facts.back()));
    out.facts.pop_back();
    const auto later =
        std::stable_partition(out.bad.begin(), out.bad.end(),
                              [&](const v1::BadRow& row) { return row.line() < out.left->line; });
    std::move(later, out.bad.end(), std::back_inserter(read_.bad));
    out.bad.erase(later, out.bad.end());
  }
  given_ = given_ || !out.facts.empty();
  return out;
}

}  // namespace ferrule::intake
