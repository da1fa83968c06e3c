#include "core/label/tag.h"

#include "absl/status/status.h"
#include "absl/strings/str_cat.h"
#include "core/label/check_characters.h"

namespace ferrule::label {
namespace {

constexpr size_t kLongestAsset = 30;

// The check character over letters and digits; the marks between them do not count.
std::optional<char> CheckOf(std::string_view tag) {
  std::string counted;
  for (char c : tag) {
    if (c != '-' && c != '.' && c != '_') counted += c;
  }
  if (counted.empty()) return std::nullopt;
  return Mod37And36(counted);
}

}  // namespace

std::string TagOnLabel(std::string_view tag, const TagRules& rules) {
  std::string text(tag);
  if (!rules.check_character) return text;
  if (const std::optional<char> check = CheckOf(tag)) text += *check;
  return text;
}

absl::StatusOr<std::string> TagFromLabel(std::string_view text, const TagRules& rules) {
  if (!rules.check_character) return std::string(text);
  if (text.size() >= 2) {
    const std::string_view tag = text.substr(0, text.size() - 1);
    const char last = text.back();
    const std::optional<char> right = CheckOf(tag);
    if (right.has_value() && (last == *right || last == *right - 'A' + 'a')) {
      return std::string(tag);
    }
  }
  return absl::InvalidArgumentError(
      absl::StrCat("\"", std::string(text),
                   "\" has a wrong check character at its end, or none: scan the label again, or "
                   "type the tag with the character behind it"));
}

absl::StatusOr<std::string> AssetIdentifier(std::string_view tag, const TagRules& rules) {
  if (rules.company_prefix.empty()) {
    return absl::InvalidArgumentError(
        "the settings give no GS1 company prefix: add tags { gs1_company_prefix: ... } to them");
  }
  std::string identifier = absl::StrCat(rules.company_prefix, std::string(tag));
  if (identifier.size() > kLongestAsset) {
    return absl::InvalidArgumentError(absl::StrCat(
        "company prefix and tag ", identifier, " have ", identifier.size(),
        " characters; a GS1 asset identifier has at most ", kLongestAsset, ": use shorter tags"));
  }
  return identifier;
}

std::optional<std::string> TagOfAsset(std::string_view identifier, const TagRules& rules) {
  const std::string& prefix = rules.company_prefix;
  if (prefix.empty() || identifier.size() <= prefix.size()) return std::nullopt;
  if (identifier.substr(0, prefix.size()) != prefix) return std::nullopt;
  return std::string(identifier.substr(prefix.size()));
}

LabelCode CodeOfTag(std::string_view tag, const TagRules& rules) {
  const absl::StatusOr<std::string> asset = AssetIdentifier(tag, rules);
  if (asset.ok()) return {true, absl::StrCat("8004", *asset), absl::StrCat("(8004)", *asset)};
  const std::string text = TagOnLabel(tag, rules);
  return {false, text, text};
}

}  // namespace ferrule::label
