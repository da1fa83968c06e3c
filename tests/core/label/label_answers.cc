// What our parsers, and libzint's encoder, say of texts on standard input: one JSON in and one out
// a line. {"kind": "bracketed" | "elements" | "hibc" | "link" | "tag", "text": "..."} gives
// {"ok": true, "elements": [["01", "...", "2026-01-31"]], "companions": 0, "zint": 0}.
#include <zint.h>

#include <iostream>
#include <string>

#include "absl/strings/str_cat.h"
#include "absl/strings/str_replace.h"
#include "absl/time/civil_time.h"
#include "core/label/check_characters.h"
#include "core/label/gs1.h"
#include "core/label/hibc.h"
#include "core/label/link.h"
#include "nlohmann/json.hpp"

namespace ferrule::label {
namespace {

using nlohmann::json;

constexpr int kYear = 2026;

// libzint's return code for a two-dimensional code with these elements. Its command line answers 0
// for a wrong check digit, so the library is asked, with warnings as errors.
int ZintCode(const std::vector<Element>& elements) {
  std::string text;
  for (const Element& e : elements) absl::StrAppend(&text, "[", e.code, "]", e.value);
  zint_symbol* symbol = ZBarcode_Create();
  symbol->symbology = BARCODE_DATAMATRIX;
  symbol->input_mode = GS1_MODE;
  symbol->warn_level = WARN_FAIL_ALL;
  const int code = ZBarcode_Encode(symbol, reinterpret_cast<const unsigned char*>(text.data()),
                                   static_cast<int>(text.size()));
  ZBarcode_Delete(symbol);
  return code;
}

json Put(const absl::StatusOr<std::vector<Element>>& elements) {
  if (!elements.ok()) return {{"ok", false}, {"words", std::string(elements.status().message())}};
  json out = {{"ok", true}, {"elements", json::array()}};
  for (const Element& e : *elements) {
    out["elements"].push_back(
        {e.code, e.value, e.date.has_value() ? absl::FormatCivilTime(*e.date) : ""});
  }
  const auto companions = CompanionRemarks(*elements);
  out["companions"] = companions.ok() ? static_cast<int>(companions->size()) : -1;
  return out;
}

json Answer(const json& question) {
  const std::string kind = question["kind"];
  const std::string text = question["text"];
  if (kind == "elements") return Put(ParseElements(text, kYear));
  if (kind == "link") return Put(ParseLink(text, kYear));
  if (kind == "hibc") {
    const auto label = ParseHibc(text, kYear);
    if (!label.ok()) return {{"ok", false}, {"words", std::string(label.status().message())}};
    return {{"ok", true}};
  }
  if (kind == "tag") return {{"ok", true}, {"check", std::string(1, *Mod37And36(text))}};
  json out = Put(ParseBracketed(text, kYear));
  // What libzint is asked comes from the question, so that it judges wrong texts as well.
  std::vector<Element> asked;
  for (const auto& pair : question["values"]) {
    asked.push_back({pair[0], "", pair[1], {}, false});
  }
  out["zint"] = ZintCode(asked);
  return out;
}

}  // namespace
}  // namespace ferrule::label

int main() {
  for (std::string line; std::getline(std::cin, line);) {
    std::cout << ferrule::label::Answer(nlohmann::json::parse(line)).dump() << "\n";
  }
  return 0;
}
