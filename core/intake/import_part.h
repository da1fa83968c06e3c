// A part of a file on its way in: cut into records, its columns laid out, its totals counted.
#pragma once

#include <cstdint>
#include <string>
#include <string_view>
#include <vector>

#include "absl/status/statusor.h"
#include "core/exchange/csv.h"
#include "core/exchange/csv_fields.h"
#include "core/intake/message_store.h"
#include "ferrule/v1/intake_service.pb.h"

namespace ferrule::intake {

// Rows of a part. Orders that are taken in hold up all others meanwhile: there are fewer of them.
inline constexpr size_t kMostRows = 5'000;
inline constexpr size_t kMostOrderRows = 500;

// Where a row stands in its file.
struct RowPlace {
  int64_t offset = 0;
  int64_t line = 0;
};

struct ImportPart {
  v1::CsvMapping mapping;
  const v1::Sender* sender = nullptr;  // null when none was named
  exchange::CsvLayout layout;
  std::vector<exchange::CsvRecord> records;
};

// `settings` must outlive the part. InvalidArgument or NotFound, in words, when the request does
// not fit the settings or the header does not fit the kind.
absl::StatusOr<ImportPart> CutPart(const v1::ImportRowsRequest& request,
                                   const v1::Settings& settings);

// Under which the progress of a file is kept.
std::string ImportId(std::string_view digest, v1::ImportKind kind, std::string_view sender);

// Of the first byte after the part's rows.
RowPlace EndOf(const v1::ImportRowsRequest& request);

// How far the file has come, as it is written beside the last of its rows.
ImportRow ProgressOf(const v1::ImportRowsResponse& response, int64_t now_us);

void CountRows(v1::ImportTotals* totals, int64_t accepted, int64_t repeated, int64_t queued,
               int64_t rejected);
v1::BadRow MakeBadRow(int64_t line, std::vector<v1::Trouble> troubles);

}  // namespace ferrule::intake
