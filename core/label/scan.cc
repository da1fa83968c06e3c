#include "core/label/scan.h"

#include <algorithm>
#include <cctype>

#include "absl/status/status.h"
#include "absl/strings/match.h"
#include "absl/strings/str_cat.h"
#include "absl/strings/str_replace.h"
#include "core/label/card.h"
#include "core/label/check_characters.h"
#include "core/label/hibc.h"
#include "core/label/link.h"

namespace ferrule::label {
namespace {

constexpr char kArrow[] = "\xe2\x86\x94";  // U+2194, shown by some tools for U+001D

// Symbology identifiers of codes that hold element strings (GS1 General Specifications; the first
// three and DataBar in gs1-syntax-engine, scandata.c).
bool HoldsElements(std::string_view symbology) {
  return symbology == "]C1" || symbology == "]d2" || symbology == "]Q3" || symbology == "]e0" ||
         symbology == "]J1";
}

// Codes of the EAN/UPC family hold a trade item number.
bool HoldsItemNumber(std::string_view symbology) {
  return symbology == "]E0" || symbology == "]E4";
}

absl::Status Wrong(const std::string& what) { return absl::InvalidArgumentError(what); }

// "]d2" taken off the front.
std::string_view TakeSymbology(std::string_view* text) {
  if (text->size() < 3 || text->front() != ']') return {};
  const auto letter = static_cast<unsigned char>((*text)[1]);
  const auto digit = static_cast<unsigned char>((*text)[2]);
  if (std::isalpha(letter) == 0 || std::isalnum(digit) == 0) return {};
  const std::string_view symbology = text->substr(0, 3);
  text->remove_prefix(3);
  return symbology;
}

bool IsText(std::string_view text) {
  return std::all_of(text.begin(), text.end(), [](char c) {
    const auto byte = static_cast<unsigned char>(c);
    return (byte >= 0x20 && byte < 0x7F) || byte >= 0x80 || c == kSeparator;
  });
}

void Draw(const Element* element, std::string* out) {
  if (element != nullptr) *out = element->value;
}

// What the elements mean, and what is to be said about them.
absl::Status Conclude(Scan* scan) {
  absl::StatusOr<std::vector<std::string>> remarks = CompanionRemarks(scan->elements);
  if (!remarks.ok()) return remarks.status();
  scan->remarks.insert(scan->remarks.end(), remarks->begin(), remarks->end());
  Draw(FindElement(scan->elements, "01"), &scan->device_identifier);
  Draw(FindElement(scan->elements, "10"), &scan->lot);
  Draw(FindElement(scan->elements, "21"), &scan->serial);
  Draw(FindElement(scan->elements, "8004"), &scan->asset);
  for (const Element& element : scan->elements) {
    if (!element.whole_month) continue;
    scan->remarks.push_back(
        absl::StrCat("The date \"", element.title,
                     "\" names no day; it is read as the last of the "
                     "month. Makers of health-care items are to give the day since 2025."));
  }
  return absl::OkStatus();
}

absl::StatusOr<Scan> WithElements(Scan scan, Form form,
                                  absl::StatusOr<std::vector<Element>> elements) {
  if (!elements.ok()) return elements.status();
  scan.form = form;
  scan.elements = *std::move(elements);
  if (absl::Status concluded = Conclude(&scan); !concluded.ok()) return concluded;
  return scan;
}

absl::StatusOr<Scan> ReadElements(Scan scan, int year) {
  std::string data = scan.text;
  if (absl::StrContains(data, kArrow)) {
    data = absl::StrReplaceAll(data, {{kArrow, std::string(1, kSeparator)}});
    scan.remarks.push_back("The arrows in the text were read as separators.");
  }
  auto elements = ParseElements(data, year);
  return WithElements(std::move(scan), Form::kGs1Elements, std::move(elements));
}

absl::StatusOr<Scan> ReadBracketed(Scan scan, int year) {
  std::string data = scan.text;
  if (data.front() == '{') {
    data = absl::StrReplaceAll(data, {{"{", "("}, {"}", ")"}});
    scan.remarks.push_back("The braces in the text were read as brackets.");
  }
  auto elements = ParseBracketed(data, year);
  return WithElements(std::move(scan), Form::kGs1Bracketed, std::move(elements));
}

absl::StatusOr<Scan> ReadHibc(Scan scan, int year) {
  absl::StatusOr<HibcLabel> label = ParseHibc(scan.text, year);
  if (!label.ok()) return label.status();
  scan.form = Form::kHibc;
  scan.elements = std::move(label->elements);
  scan.device_identifier = std::move(label->device_identifier);
  scan.lot = std::move(label->lot);
  scan.serial = std::move(label->serial);
  if (scan.device_identifier.empty()) {
    scan.remarks.push_back("This code does not name the product: scan the label's other code too.");
  }
  return scan;
}

absl::StatusOr<Scan> ReadItemNumber(Scan scan) {
  const std::optional<std::string> gtin = Gtin14(scan.text);
  if (!gtin.has_value()) {
    return Wrong(absl::StrCat("\"", scan.text,
                              "\" is no trade item number with a right check "
                              "digit: scan it again, or type the digits below the code"));
  }
  scan.form = Form::kGtin;
  scan.device_identifier = *gtin;
  scan.elements.push_back({"", "trade item number (GTIN)", scan.text, {}, false});
  return scan;
}

bool IsItemNumberLength(size_t length) {
  return length == 8 || length == 12 || length == 13 || length == 14;
}

// Digits alone: a trade item number when its check digit is right; it may be a tag all the same.
Scan ReadDigits(Scan scan) {
  scan.guessed = true;
  absl::StatusOr<Scan> item = ReadItemNumber(scan);
  if (item.ok()) return *std::move(item);
  const std::string_view text = scan.text;
  scan.remarks.push_back(
      absl::StrCat("If this is meant as a trade item number, its last digit should be ",
                   std::string(1, *Mod10(text.substr(0, text.size() - 1))), "."));
  return scan;
}

// Element strings of scanners that send neither symbology identifier nor brackets: only the starts
// that a tag or serial number is least likely to have by chance, and only when all of it is right.
bool MayBeElements(std::string_view text) {
  const auto starts = [text](std::string_view code) { return text.substr(0, 2) == code; };
  return text.find(kSeparator) != std::string_view::npos || (starts("01") && text.size() >= 16) ||
         (starts("00") && text.size() == 20) || text.substr(0, 4) == "8004" ||
         text.substr(0, 4) == "8003";
}

absl::StatusOr<Scan> ReadPlain(Scan scan, int year) {
  const std::string& text = scan.text;
  if (absl::StrContains(text, std::string(1, kSeparator))) return ReadElements(scan, year);
  if (MayBeElements(text)) {
    absl::StatusOr<Scan> elements = ReadElements(scan, year);
    if (elements.ok()) {
      elements->guessed = true;
      return elements;
    }
  }
  if (IsDigits(text) && IsItemNumberLength(text.size())) return ReadDigits(std::move(scan));
  if (text.front() == '=' || text.front() == '&') {
    scan.remarks.push_back(
        "This looks like a code for blood and tissue (ISBT 128), which is not read here: type the "
        "serial number of the label.");
  }
  scan.form = Form::kPlain;
  return scan;
}

}  // namespace

absl::StatusOr<Scan> ParseScan(std::string_view text, int year) {
  text = Trimmed(text);
  Scan scan;
  scan.symbology = std::string(TakeSymbology(&text));
  scan.text = std::string(text);
  if (text.empty()) return Wrong("nothing was scanned: scan a label or type its text");
  if (text.size() > kLongestLine) {
    return Wrong(absl::StrCat("the text has ", text.size(), " bytes, more than ", kLongestLine,
                              ": two scans have run together, scan again"));
  }
  if (!IsText(text)) {
    return Wrong(
        "the text has control characters in it: scan it again, or type what stands below "
        "the code");
  }
  if (HoldsElements(scan.symbology)) return ReadElements(std::move(scan), year);
  if (HoldsItemNumber(scan.symbology)) return ReadItemNumber(std::move(scan));
  if (text.front() == '(' || text.substr(0, 3) == "{01")
    return ReadBracketed(std::move(scan), year);
  if (text.front() == '/') {
    const absl::StatusOr<StationLine> card = ParseStationLine(text);
    if (!card.ok()) return card.status();
    scan.form = Form::kCard;
    return scan;
  }
  if (IsHibc(text)) return ReadHibc(std::move(scan), year);
  if (IsWebAddress(text)) {
    auto elements = ParseLink(text, year);
    return WithElements(std::move(scan), Form::kGs1Link, std::move(elements));
  }
  return ReadPlain(std::move(scan), year);
}

}  // namespace ferrule::label
