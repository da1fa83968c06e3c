#include "core/label/link.h"

#include <optional>
#include <string>

#include "absl/status/status.h"
#include "absl/strings/match.h"
#include "absl/strings/str_cat.h"
#include "absl/strings/str_split.h"
#include "core/label/check_characters.h"

namespace ferrule::label {
namespace {

// What a link may be about, and what may follow it in the path.
constexpr std::string_view kKeys[] = {"00",  "01",   "253",  "401",  "402",  "414",  "415",
                                      "417", "8003", "8004", "8006", "8013", "8017", "8018"};

std::optional<int> HexDigit(char c) {
  if (c >= '0' && c <= '9') return c - '0';
  if (c >= 'A' && c <= 'F') return c - 'A' + 10;
  if (c >= 'a' && c <= 'f') return c - 'a' + 10;
  return std::nullopt;
}

absl::Status NoLink(const std::string& what) {
  return absl::InvalidArgumentError(absl::StrCat(
      "this web address ", what, ": scan another code of the label, or type its serial number"));
}

absl::StatusOr<std::string> Decode(std::string_view text) {
  std::string out;
  for (size_t i = 0; i < text.size(); ++i) {
    if (text[i] != '%') {
      out += text[i];
      continue;
    }
    const auto high = i + 2 < text.size() ? HexDigit(text[i + 1]) : std::nullopt;
    const auto low = i + 2 < text.size() ? HexDigit(text[i + 2]) : std::nullopt;
    if (!high.has_value() || !low.has_value()) return NoLink("has a broken % sign in it");
    out += static_cast<char>(*high * 16 + *low);
    i += 2;
  }
  return out;
}

bool IsKey(std::string_view code) {
  for (std::string_view key : kKeys) {
    if (key == code) return true;
  }
  return false;
}

absl::Status Add(std::string_view code, std::string_view encoded, int year,
                 std::vector<Element>* elements) {
  absl::StatusOr<std::string> value = Decode(encoded);
  if (!value.ok()) return value.status();
  if (code == "01") value = Gtin14(*value).value_or(*value);  // older links leave the zeros out
  absl::StatusOr<Element> element = ParseElement(code, *value, year);
  if (!element.ok()) return element.status();
  elements->push_back(*std::move(element));
  return absl::OkStatus();
}

// Identifier and value behind one another, from the key on.
absl::Status AddPath(const std::vector<std::string>& segments, size_t key, int year,
                     std::vector<Element>* elements) {
  for (size_t i = key; i < segments.size(); i += 2) {
    if (i + 1 == segments.size()) return NoLink("ends in the middle");
    if (absl::Status added = Add(segments[i], segments[i + 1], year, elements); !added.ok()) {
      return added;
    }
  }
  return absl::OkStatus();
}

// Only numbers are identifiers; other words of the query belong to the address.
absl::Status AddQuery(std::string_view query, int year, std::vector<Element>* elements) {
  for (const std::string& pair :
       std::vector<std::string>(absl::StrSplit(std::string(query), absl::ByAnyChar("&;")))) {
    const size_t equals = pair.find('=');
    if (equals == std::string::npos) continue;
    const std::string_view code = std::string_view(pair).substr(0, equals);
    if (code.empty() || !IsDigits(code)) continue;
    absl::Status added = Add(code, std::string_view(pair).substr(equals + 1), year, elements);
    if (!added.ok()) return added;
  }
  return absl::OkStatus();
}

}  // namespace

bool IsWebAddress(std::string_view text) {
  const std::string start(text.substr(0, 8));
  return absl::StartsWithIgnoreCase(start, "http://") ||
         absl::StartsWithIgnoreCase(start, "https://");
}

absl::StatusOr<std::vector<Element>> ParseLink(std::string_view address, int year) {
  if (!IsWebAddress(address)) return NoLink("does not begin with https://");
  address = address.substr(0, address.find('#'));
  const size_t question = std::min(address.find('?'), address.size());
  std::string_view path = address.substr(0, question);
  path.remove_prefix(path.find("//") + 2);
  const size_t slash = std::min(path.find('/'), path.size());
  const std::vector<std::string> segments =
      absl::StrSplit(std::string(path.substr(std::min(slash + 1, path.size()))), '/');
  size_t key = 0;
  while (key < segments.size() && !IsKey(segments[key])) ++key;
  if (key == segments.size()) return NoLink("names no item or asset");
  std::vector<Element> elements;
  if (absl::Status added = AddPath(segments, key, year, &elements); !added.ok()) return added;
  if (question < address.size()) {
    absl::Status added = AddQuery(address.substr(question + 1), year, &elements);
    if (!added.ok()) return added;
  }
  return elements;
}

}  // namespace ferrule::label
