// Any bytes as a stream of frames: the same messages wherever it is cut, and what was found is
// found again when it is framed.
#include "core/exchange/mllp.h"

#include <cstdint>
#include <cstdlib>
#include <string>
#include <string_view>
#include <vector>

namespace {

using ferrule::exchange::MllpReader;

void Check(bool holds) {
  if (!holds) std::abort();
}

void Feed(MllpReader& reader, std::string_view bytes, std::vector<MllpReader::Block>* out) {
  reader.Feed(bytes, [out](MllpReader::Block block) { out->push_back(std::move(block)); });
}

}  // namespace

extern "C" int LLVMFuzzerTestOneInput(const uint8_t* data, size_t size) {
  const std::string_view bytes(reinterpret_cast<const char*>(data), size);
  const size_t most = size == 0 ? 1 : size / 2 + 1;
  MllpReader once(most);
  std::vector<MllpReader::Block> whole;
  Feed(once, bytes, &whole);
  MllpReader twice(most);
  std::vector<MllpReader::Block> parts;
  Feed(twice, bytes.substr(0, size / 3), &parts);
  Feed(twice, bytes.substr(size / 3), &parts);
  Check(whole.size() == parts.size() && once.skipped_bytes() == twice.skipped_bytes());
  for (size_t i = 0; i < whole.size(); ++i) {
    Check(whole[i].bytes == parts[i].bytes && whole[i].too_large == parts[i].too_large);
    Check(whole[i].too_large ? whole[i].bytes.size() <= MllpReader::kKept
                             : whole[i].bytes.size() == whole[i].size);
    if (whole[i].too_large) continue;
    MllpReader framed(whole[i].size + 1);
    std::vector<MllpReader::Block> again;
    Feed(framed, ferrule::exchange::Frame(whole[i].bytes), &again);
    // A message cannot hold its own frame's end; what was found never does.
    Check(again.size() == 1 && again[0].bytes == whole[i].bytes);
  }
  return 0;
}
