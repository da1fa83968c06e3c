#include "core/label/compose.h"

#include "absl/strings/str_cat.h"
#include "absl/strings/str_replace.h"
#include "core/label/gs1.h"
#include "core/label/gs1_table.h"

namespace ferrule::label {
namespace {

// Whether a date is one does not depend on the year, except 29 February of '00, which 2000 has.
constexpr int kAnyYear = 2000;

absl::Status Check(const Values& values) {
  for (const auto& [code, value] : values) {
    const auto element = ParseElement(code, value, kAnyYear);
    if (!element.ok()) return element.status();
  }
  return absl::OkStatus();
}

}  // namespace

absl::StatusOr<std::string> ComposeElements(const Values& values) {
  if (absl::Status checked = Check(values); !checked.ok()) return checked;
  std::string text;
  for (size_t i = 0; i < values.size(); ++i) {
    absl::StrAppend(&text, values[i].first, values[i].second);
    if (i + 1 < values.size() && !HasPredefinedLength(values[i].first)) text += kSeparator;
  }
  return text;
}

absl::StatusOr<std::string> ComposeBracketed(const Values& values) {
  if (absl::Status checked = Check(values); !checked.ok()) return checked;
  std::string text;
  for (const auto& [code, value] : values) {
    absl::StrAppend(&text, "(", code, ")", absl::StrReplaceAll(value, {{"(", "\\("}}));
  }
  return text;
}

}  // namespace ferrule::label
