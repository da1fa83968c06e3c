#include "core/label/check_characters.h"

#include <algorithm>
#include <cstddef>

namespace ferrule::label {
namespace {

constexpr std::string_view kCode43 = "0123456789ABCDEFGHIJKLMNOPQRSTUVWXYZ-. $/+%";
constexpr std::string_view kCode36 = "0123456789ABCDEFGHIJKLMNOPQRSTUVWXYZ";
// The 82 characters of GS1 element strings, in the order of their values.
constexpr std::string_view kCode82 =
    "!\"%&'()*+,-./0123456789:;<=>?ABCDEFGHIJKLMNOPQRSTUVWXYZ_abcdefghijklmnopqrstuvwxyz";
constexpr std::string_view kPairs = "23456789ABCDEFGHJKLMNPQRSTUVWXYZ";
constexpr int kPrimes[] = {2,  3,  5,  7,  11, 13, 17, 19, 23, 29, 31, 37,
                           41, 43, 47, 53, 59, 61, 67, 71, 73, 79, 83};

char Upper(char c) { return c >= 'a' && c <= 'z' ? static_cast<char>(c - 'a' + 'A') : c; }

}  // namespace

bool IsDigits(std::string_view text) {
  return std::all_of(text.begin(), text.end(), [](char c) { return c >= '0' && c <= '9'; });
}

std::optional<char> Mod10(std::string_view digits) {
  if (digits.empty() || !IsDigits(digits)) return std::nullopt;
  int sum = 0;
  int weight = 3;
  for (size_t i = digits.size(); i-- > 0;) {
    sum += weight * (digits[i] - '0');
    weight = 4 - weight;
  }
  return static_cast<char>('0' + (10 - sum % 10) % 10);
}

std::optional<char> Mod43(std::string_view text) {
  size_t sum = 0;
  for (char c : text) {
    const size_t value = kCode43.find(c);
    if (value == std::string_view::npos) return std::nullopt;
    sum += value;
  }
  return kCode43[sum % 43];
}

std::optional<char> Mod37And36(std::string_view text) {
  size_t sum = 36;
  for (char c : text) {
    const size_t value = kCode36.find(Upper(c));
    if (value == std::string_view::npos) return std::nullopt;
    sum += value;
    if (sum > 36) sum -= 36;
    sum = sum * 2 % 37;
  }
  return kCode36[(37 - sum) % 36];
}

std::optional<std::string> ModelNumberPair(std::string_view text) {
  if (text.empty() || text.size() > std::size(kPrimes)) return std::nullopt;
  size_t sum = 0;
  for (size_t i = 0; i < text.size(); ++i) {
    const size_t value = kCode82.find(text[i]);
    if (value == std::string_view::npos) return std::nullopt;
    sum += value * static_cast<size_t>(kPrimes[text.size() - 1 - i]);
  }
  sum %= 1021;
  return std::string{kPairs[sum >> 5], kPairs[sum & 31]};
}

}  // namespace ferrule::label
