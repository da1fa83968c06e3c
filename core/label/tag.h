// The depot's own tags on labels: as plain text, with a check character where the depot wants one,
// and as a GS1 individual asset identifier (GIAI).
#pragma once

#include <optional>
#include <string>
#include <string_view>

#include "absl/status/statusor.h"

namespace ferrule::label {

// What the depot's settings say (v1::TagPolicy).
struct TagRules {
  bool check_character = false;
  std::string company_prefix;  // empty: tags are not coded as GS1 identifiers
};

// How a tag stands on its label: "K-0417", or "K-0417B" with its check character.
std::string TagOnLabel(std::string_view tag, const TagRules& rules);

// The tag that a label's text means. InvalidArgument when its check character is wrong or missing.
absl::StatusOr<std::string> TagFromLabel(std::string_view text, const TagRules& rules);

// Company prefix and tag. InvalidArgument when the depot has no prefix, or the two have more than
// 30 characters.
absl::StatusOr<std::string> AssetIdentifier(std::string_view tag, const TagRules& rules);

// The tag in an asset identifier of this depot; nothing when it is another company's.
std::optional<std::string> TagOfAsset(std::string_view identifier, const TagRules& rules);

// What the two-dimensional code of a unit's label holds.
struct LabelCode {
  bool gs1 = false;     // an element string: the code begins with FNC1
  std::string payload;  // "8004" and the identifier, or the tag as on the label
  std::string people;   // the same as people read it, "(8004)40123456K-0417"
};
LabelCode CodeOfTag(std::string_view tag, const TagRules& rules);

}  // namespace ferrule::label
