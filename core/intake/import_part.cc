#include "core/intake/import_part.h"

#include <algorithm>
#include <utility>

#include "absl/strings/str_cat.h"
#include "core/intake/digest.h"

namespace ferrule::intake {
namespace {

// The only mapping of the kind, or the one that is named; none at all is a plain one.
absl::Status ChooseMapping(const v1::ImportRowsRequest& request, ImportPart* part) {
  int matching = 0;
  for (int i = 0; part->sender != nullptr && i < part->sender->csv_size(); ++i) {
    const v1::CsvMapping& mapping = part->sender->csv(i);
    if (mapping.kind() != request.kind()) continue;
    if (!request.mapping().empty() && mapping.id() != request.mapping()) continue;
    part->mapping = mapping;
    ++matching;
  }
  if (matching > 1) {
    return absl::InvalidArgumentError(
        "the sender has several column mappings of this kind; name one");
  }
  if (matching == 0 && !request.mapping().empty()) {
    return absl::InvalidArgumentError(absl::StrCat(
        "the sender has no column mapping \"", request.mapping(), "\" of this kind; check its id"));
  }
  return absl::OkStatus();
}

absl::Status HeaderError(const exchange::CsvLayout& layout) {
  std::string text = "the header does not fit:";
  for (const v1::Trouble& trouble : layout.troubles) {
    absl::StrAppend(&text, " ", trouble.where(), " ", trouble.text(), ";");
  }
  absl::StrAppend(&text, " ", layout.troubles.front().cure());
  return absl::InvalidArgumentError(text);
}

}  // namespace

absl::StatusOr<ImportPart> CutPart(const v1::ImportRowsRequest& request,
                                   const v1::Settings& settings) {
  ImportPart part;
  for (const v1::Sender& sender : settings.senders()) {
    if (sender.id() == request.sender()) part.sender = &sender;
  }
  if (part.sender == nullptr && !request.sender().empty()) {
    return absl::NotFoundError(absl::StrCat("the settings in force have no sender \"",
                                            request.sender(), "\"; check its id"));
  }
  if (part.sender == nullptr && request.kind() == v1::IMPORT_KIND_ORDERS) {
    return absl::InvalidArgumentError("say whose orders these are: name a sender of the settings");
  }
  absl::Status chosen = ChooseMapping(request, &part);
  if (!chosen.ok()) return chosen;
  const char delimiter = part.mapping.delimiter().empty() ? ',' : part.mapping.delimiter()[0];
  const auto header =
      exchange::CsvReader(delimiter).Feed(exchange::WithoutMark(request.header()), true);
  if (header.size() != 1 || !header[0].wrong.empty()) {
    return absl::InvalidArgumentError("the header is not one line of column names");
  }
  part.layout = exchange::LayOut(request.kind(), part.mapping, header[0].fields);
  if (!part.layout.troubles.empty()) return HeaderError(part.layout);
  part.records = exchange::CsvReader(delimiter, request.first_line(), request.offset_bytes())
                     .Feed(request.rows(), true);
  const size_t most = request.kind() == v1::IMPORT_KIND_ORDERS ? kMostOrderRows : kMostRows;
  if (part.records.size() > most) {
    return absl::InvalidArgumentError(
        absl::StrCat("there are ", part.records.size(), " rows; give at most ", most));
  }
  return part;
}

std::string ImportId(std::string_view digest, v1::ImportKind kind, std::string_view sender) {
  return absl::StrCat(HexOf(digest), "/", static_cast<int>(kind), "/", std::string(sender));
}

RowPlace EndOf(const v1::ImportRowsRequest& request) {
  const std::string& rows = request.rows();
  return {request.offset_bytes() + static_cast<int64_t>(rows.size()),
          request.first_line() + std::count(rows.begin(), rows.end(), '\n')};
}

ImportRow ProgressOf(const v1::ImportRowsResponse& response, int64_t now_us) {
  ImportRow row;
  row.offset = response.next_offset_bytes();
  row.next_line = response.next_line();
  row.totals = response.totals();
  row.update_us = now_us;
  return row;
}

void CountRows(v1::ImportTotals* totals, int64_t accepted, int64_t repeated, int64_t queued,
               int64_t rejected) {
  totals->set_read_count(totals->read_count() + accepted + repeated + queued + rejected);
  totals->set_accepted_count(totals->accepted_count() + accepted);
  totals->set_repeated_count(totals->repeated_count() + repeated);
  totals->set_queued_count(totals->queued_count() + queued);
  totals->set_rejected_count(totals->rejected_count() + rejected);
}

v1::BadRow MakeBadRow(int64_t line, std::vector<v1::Trouble> troubles) {
  v1::BadRow row;
  row.set_line(line);
  for (v1::Trouble& trouble : troubles) *row.add_troubles() = std::move(trouble);
  return row;
}

}  // namespace ferrule::intake
