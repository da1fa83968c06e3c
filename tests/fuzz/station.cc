// Any bytes as lines of the station: each is a card, readings, a scan, nothing, or refused in
// words.
#include <algorithm>
#include <cstdint>
#include <cstdlib>
#include <string>

#include "core/label/card.h"
#include "core/label/scan.h"

namespace {

using ferrule::label::StationLine;

void Check(bool holds) {
  if (!holds) std::abort();
}

void OneLine(const std::string& text) {
  const auto line = ferrule::label::ParseStationLine(text);
  if (!line.ok()) {
    Check(!line.status().message().empty());
    return;
  }
  Check((line->kind == StationLine::Kind::kReadings) == !line->readings.empty());
  Check((line->kind == StationLine::Kind::kScan) == !line->scan.empty());
  for (const auto& [item, value] : line->readings) Check(!item.empty() && !value.empty());
  if (line->kind == StationLine::Kind::kScan) {
    const auto scan = ferrule::label::ParseScan(line->scan, 2026);
    Check(scan.ok() || !scan.status().message().empty());
  }
}

}  // namespace

extern "C" int LLVMFuzzerTestOneInput(const uint8_t* data, size_t size) {
  const std::string text(reinterpret_cast<const char*>(data), size);
  size_t at = 0;
  while (at <= text.size()) {
    const size_t end = std::min(text.find('\n', at), text.size());
    OneLine(text.substr(at, end - at));
    at = end + 1;
  }
  return 0;
}
