// The fields that a row of a file may fill, by kind of import, and the facts that follow from a row
// that is no order. The names are those of the settings' column mappings; without a mapping the
// columns are called as the fields are.
#pragma once

#include <cstdint>
#include <span>
#include <string>
#include <string_view>
#include <utility>
#include <vector>

#include "absl/time/time.h"
#include "core/depot/settings_book.h"
#include "ferrule/v1/facts.pb.h"
#include "ferrule/v1/intake.pb.h"
#include "ferrule/v1/settings.pb.h"

namespace ferrule::exchange {

struct CsvField {
  std::string_view name;
  bool required;
};
std::span<const CsvField> FieldsOf(v1::ImportKind kind);

using CsvValues = std::vector<std::pair<std::string, std::string>>;  // field, text
std::string_view ValueOf(const CsvValues& values, std::string_view field);

// Which column fills which field: the mapping's columns, found in the header.
struct CsvLayout {
  std::vector<std::pair<size_t, std::string>> columns;  // index, field
  size_t width = 0;
  std::vector<v1::Trouble> troubles;
};
CsvLayout LayOut(v1::ImportKind kind, const v1::CsvMapping& mapping,
                 const std::vector<std::string>& header);

// The row's values, empty ones left out. FIELD_INVALID when it has too many or too few fields.
CsvValues ValuesOf(const CsvLayout& layout, const std::vector<std::string>& fields,
                   std::vector<v1::Trouble>* troubles);

// A day in the mapping's form ("YYYY-MM-DD" when it names none). False when it is none.
bool ParseCsvDay(std::string_view text, std::string_view form, google::type::Date* day);

// What a row of units, opening stock, readings or test results says, as a fact with its true time.
// `rules` are those in force now, `zone` the zone of times without offset.
struct RowOptions {
  const v1::CsvMapping* mapping;
  const depot::Rules* rules;
  absl::TimeZone zone;
  int64_t now_us;
};
struct RowFact {
  v1::Fact fact;
  std::vector<v1::Trouble> troubles;
};
RowFact ReadRow(v1::ImportKind kind, const CsvValues& values, const RowOptions& options);

}  // namespace ferrule::exchange
