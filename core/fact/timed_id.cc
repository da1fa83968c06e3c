#include "core/fact/timed_id.h"

#include "absl/strings/ascii.h"
#include "absl/strings/escaping.h"

namespace ferrule::fact {
namespace {

constexpr std::string_view kForm = "tttttttt-tttt-7xxx-vxxx-xxxxxxxxxxxx";

// What a hexadecimal digit says, -1 for another character.
int DigitOf(char c) {
  if (!absl::ascii_isxdigit(static_cast<unsigned char>(c))) return -1;
  return absl::ascii_isdigit(static_cast<unsigned char>(c)) ? c - '0' : (c | 0x20) - 'a' + 10;
}

}  // namespace

std::optional<int64_t> MadeMs(std::string_view id) {
  if (id.size() < kForm.size()) return std::nullopt;
  if (id.size() > kForm.size() && id[kForm.size()] != '-') return std::nullopt;
  int64_t ms = 0;
  for (size_t i = 0; i < kForm.size(); ++i) {
    if (kForm[i] == '-' || kForm[i] == '7') {
      if (id[i] != kForm[i]) return std::nullopt;
      continue;
    }
    const int digit = DigitOf(id[i]);
    if (digit < 0) return std::nullopt;
    if (kForm[i] == 'v' && digit >> 2 != 0b10) return std::nullopt;  // the variant
    if (kForm[i] == 't') ms = ms << 4 | digit;
  }
  return ms;
}

std::string TimedId(int64_t unix_ms, const std::array<uint8_t, 10>& chance) {
  std::string bytes(16, '\0');
  for (size_t i = 0; i < 6; ++i) bytes[i] = static_cast<char>(unix_ms >> (40 - 8 * i));
  for (size_t i = 0; i < chance.size(); ++i) bytes[6 + i] = static_cast<char>(chance[i]);
  bytes[6] = static_cast<char>((bytes[6] & 0x0F) | 0x70);
  bytes[8] = static_cast<char>((bytes[8] & 0x3F) | 0x80);
  std::string id = absl::BytesToHexString(bytes);
  for (const size_t at : {size_t{8}, size_t{13}, size_t{18}, size_t{23}}) id.insert(at, 1, '-');
  return id;
}

}  // namespace ferrule::fact
