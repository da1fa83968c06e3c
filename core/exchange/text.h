// Small work on texts. Debian's Abseil has a string_view of its own, so that its functions take
// std::string_view only through a copy; these take it as it is.
#pragma once

#include <charconv>
#include <cmath>
#include <cstdint>
#include <string>
#include <string_view>
#include <type_traits>
#include <vector>

#include "absl/strings/numbers.h"
#include "absl/strings/str_cat.h"

namespace ferrule::exchange {

namespace text_internal {
template <typename T>
void Append(const T& part, std::string* out) {
  if constexpr (std::is_convertible_v<T, std::string_view>) {
    out->append(std::string_view(part));
  } else {
    absl::StrAppend(out, part);
  }
}
}  // namespace text_internal

// The parts one after the other: texts and numbers.
template <typename... Parts>
std::string Cat(const Parts&... parts) {
  std::string out;
  (text_internal::Append(parts, &out), ...);
  return out;
}

inline std::vector<std::string_view> Split(std::string_view text, char at) {
  std::vector<std::string_view> parts;
  while (true) {
    const size_t end = text.find(at);
    parts.push_back(text.substr(0, end));
    if (end == std::string_view::npos) return parts;
    text.remove_prefix(end + 1);
  }
}

inline bool Begins(std::string_view text, std::string_view with) { return text.starts_with(with); }
inline bool Ends(std::string_view text, std::string_view with) { return text.ends_with(with); }

inline char Lower(char c) { return c >= 'A' && c <= 'Z' ? static_cast<char>(c - 'A' + 'a') : c; }
inline char Upper(char c) { return c >= 'a' && c <= 'z' ? static_cast<char>(c - 'a' + 'A') : c; }
inline std::string Lower(std::string_view text) {
  std::string out(text);
  for (char& c : out) c = Lower(c);
  return out;
}
inline bool IsUpper(char c) { return c >= 'A' && c <= 'Z'; }
inline bool IsHex(char c) { return (c >= '0' && c <= '9') || (Lower(c) >= 'a' && Lower(c) <= 'f'); }
inline bool IsDigit(char c) { return c >= '0' && c <= '9'; }
inline bool IsAlphanumeric(char c) { return IsDigit(c) || (Lower(c) >= 'a' && Lower(c) <= 'z'); }
inline bool IsBlank(char c) { return c == ' ' || (c >= '\t' && c <= '\r'); }

inline std::string_view Strip(std::string_view text) {
  while (!text.empty() && IsBlank(text.front())) text.remove_prefix(1);
  while (!text.empty() && IsBlank(text.back())) text.remove_suffix(1);
  return text;
}

// Decimal digits alone; false for anything else or what does not fit.
inline bool ParseDigits(std::string_view text, int64_t* value) {
  const auto [end, error] = std::from_chars(text.data(), text.data() + text.size(), *value);
  return error == std::errc() && end == text.data() + text.size() && text.front() != '-';
}
// A finite decimal number.
inline bool ParseNumber(std::string_view text, double* value) {
  return absl::SimpleAtod(std::string(text), value) && std::isfinite(*value);
}

}  // namespace ferrule::exchange
