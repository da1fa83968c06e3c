// Any bytes as a scan. What is read as an element string must come back the same when it is written
// and read again, in both forms.
#include <cstdint>
#include <cstdlib>
#include <string>

#include "core/label/compose.h"
#include "core/label/scan.h"
#include "core/label/tag.h"

namespace {

using ferrule::label::Element;

void Check(bool holds) {
  if (!holds) std::abort();
}

bool Same(const std::vector<Element>& a, const std::vector<Element>& b) {
  if (a.size() != b.size()) return false;
  for (size_t i = 0; i < a.size(); ++i) {
    if (a[i].code != b[i].code || a[i].value != b[i].value) return false;
  }
  return true;
}

void WriteAndReadAgain(const std::vector<Element>& elements) {
  ferrule::label::Values values;
  for (const Element& element : elements) values.emplace_back(element.code, element.value);
  const auto plain = ferrule::label::ComposeElements(values);
  const auto bracketed = ferrule::label::ComposeBracketed(values);
  Check(plain.ok() && bracketed.ok());
  const auto again = ferrule::label::ParseElements(*plain, 2026);
  Check(again.ok() && Same(*again, elements));
  const auto people = ferrule::label::ParseBracketed(*bracketed, 2026);
  Check(people.ok() && Same(*people, elements));
}

}  // namespace

extern "C" int LLVMFuzzerTestOneInput(const uint8_t* data, size_t size) {
  const std::string text(reinterpret_cast<const char*>(data), size);
  const auto scan = ferrule::label::ParseScan(text, 2026);
  if (!scan.ok()) {
    Check(!scan.status().message().empty());
    return 0;
  }
  using ferrule::label::Form;
  if (scan->form == Form::kGs1Elements || scan->form == Form::kGs1Bracketed ||
      scan->form == Form::kGs1Link) {
    WriteAndReadAgain(scan->elements);
  }
  const ferrule::label::TagRules rules{true, "4012345"};
  const std::string label = ferrule::label::TagOnLabel(scan->text, rules);
  if (label != scan->text) Check(*ferrule::label::TagFromLabel(label, rules) == scan->text);
  return 0;
}
