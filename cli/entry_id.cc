#include "cli/entry_id.h"

#include <cstdint>
#include <random>

#include "absl/strings/str_format.h"

namespace ferrule::cli {

std::string NewEntryId() {
  std::random_device random;
  uint32_t words[4];
  for (uint32_t& word : words) word = random();
  words[1] = (words[1] & 0xFFFF0FFFU) | 0x00004000U;
  words[2] = (words[2] & 0x3FFFFFFFU) | 0x80000000U;
  return absl::StrFormat("%08x-%04x-%04x-%04x-%04x%08x", words[0], words[1] >> 16,
                         words[1] & 0xFFFFU, words[2] >> 16, words[2] & 0xFFFFU, words[3]);
}

}  // namespace ferrule::cli
