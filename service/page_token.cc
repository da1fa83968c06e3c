#include "service/page_token.h"

#include <algorithm>
#include <cstdint>

#include "absl/strings/escaping.h"
#include "absl/strings/str_cat.h"
#include "service/errors.h"
#include "service/limits.h"

namespace ferrule::service {
namespace {

constexpr char kFormat = '1';
constexpr size_t kHashBytes = 8;

// FNV-1a, 64 bits: the same in every process that serves the depot.
std::string HashOf(const google::protobuf::MessageLite& arguments) {
  uint64_t hash = 0xCBF29CE484222325;
  for (const char c : absl::StrCat(arguments.GetTypeName(), ":", arguments.SerializeAsString())) {
    hash = (hash ^ static_cast<unsigned char>(c)) * 0x100000001B3;
  }
  std::string out;
  for (size_t i = 0; i < kHashBytes; ++i) out.push_back(static_cast<char>(hash >> (8 * i)));
  return out;
}

}  // namespace

std::string MakePageToken(std::string_view last_key,
                          const google::protobuf::MessageLite& arguments) {
  if (last_key.empty()) return "";
  const std::string raw =
      absl::StrCat(std::string(1, kFormat), HashOf(arguments), std::string(last_key));
  return absl::WebSafeBase64Escape(raw);
}

absl::StatusOr<std::string> ReadPageToken(std::string_view token,
                                          const google::protobuf::MessageLite& arguments) {
  if (token.empty()) return "";
  std::string raw;
  if (token.size() > kMaxPageTokenBytes || !absl::WebSafeBase64Unescape(std::string(token), &raw) ||
      raw.size() <= 1 + kHashBytes || raw[0] != kFormat ||
      raw.compare(1, kHashBytes, HashOf(arguments)) != 0) {
    return errors::PageTokenMismatch();
  }
  return raw.substr(1 + kHashBytes);
}

absl::StatusOr<int> PageSize(int asked, int default_size) {
  if (asked < 0) {
    return errors::FieldInvalid(
        "page_size",
        absl::StrCat("is ", asked, "; give 1 to ", kMaxPageSize, ", or 0 for ", default_size));
  }
  return asked == 0 ? default_size : std::min(asked, kMaxPageSize);
}

}  // namespace ferrule::service
