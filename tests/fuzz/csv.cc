// Any bytes as a table: the same records wherever the bytes are cut, and what is in order comes
// back when it is written again.
#include "core/exchange/csv.h"

#include <cstdint>
#include <cstdlib>
#include <string>
#include <string_view>

namespace {

using ferrule::exchange::CsvReader;
using ferrule::exchange::CsvRecord;

void Check(bool holds) {
  if (!holds) std::abort();
}

bool Same(const CsvRecord& a, const CsvRecord& b) {
  return a.fields == b.fields && a.line == b.line && a.offset == b.offset && a.wrong == b.wrong;
}

}  // namespace

extern "C" int LLVMFuzzerTestOneInput(const uint8_t* data, size_t size) {
  const std::string_view text(reinterpret_cast<const char*>(data), size);
  const std::vector<CsvRecord> whole = CsvReader().Feed(text, true);
  CsvReader cut;
  std::vector<CsvRecord> parts = cut.Feed(text.substr(0, size / 2), false);
  for (CsvRecord& more : cut.Feed(text.substr(size / 2), true)) parts.push_back(std::move(more));
  Check(whole.size() == parts.size());
  std::string written;
  std::vector<std::vector<std::string>> good;
  for (size_t i = 0; i < whole.size(); ++i) {
    Check(Same(whole[i], parts[i]));
    Check(whole[i].end <= static_cast<int64_t>(size) && whole[i].offset < whole[i].end);
    if (!whole[i].wrong.empty()) continue;
    if (whole[i].fields.size() == 1 && whole[i].fields[0].empty()) continue;  // reads as no record
    good.push_back(whole[i].fields);
    for (size_t k = 0; k < whole[i].fields.size(); ++k) {
      written += (k == 0 ? "" : ",") + ferrule::exchange::QuoteCsv(whole[i].fields[k]);
    }
    written += "\r\n";
  }
  const std::vector<CsvRecord> again = CsvReader().Feed(written, true);
  Check(again.size() == good.size());
  for (size_t i = 0; i < again.size(); ++i) Check(again[i].fields == good[i]);
  return 0;
}
