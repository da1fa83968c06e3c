// What a scanned or typed text is: its form, and what it says.
#pragma once

#include <string>
#include <string_view>
#include <vector>

#include "absl/status/statusor.h"
#include "core/label/gs1.h"

namespace ferrule::label {

enum class Form { kPlain, kGs1Elements, kGs1Bracketed, kGtin, kHibc, kCard, kGs1Link };

struct Scan {
  Form form = Form::kPlain;
  std::string symbology;  // "]d2"; empty when the scanner sent none
  std::string text;       // without symbology identifier and blanks around it
  std::vector<Element> elements;
  std::vector<std::string> remarks;  // sentences
  // Whether the form was guessed from plain digits, so that the text may be a tag or serial number
  // as well.
  bool guessed = false;
  // What the elements say; each empty when they do not say it.
  std::string device_identifier;  // GTIN of 14 digits, or HIBC labeler, product, unit of measure
  std::string lot;
  std::string serial;
  std::string asset;  // GIAI, which holds own tags
};

// Reads a scan. A scanner may send the symbology identifier (ISO/IEC 15424) or not, and U+001D
// where the code has FNC1; the arrow that some tools show in its place (U+2194) and braces instead
// of brackets are taken too, with a remark. InvalidArgument, in words that say what to do, when the
// text has a form and breaks it, or has none. `year` is the present one.
absl::StatusOr<Scan> ParseScan(std::string_view text, int year);

}  // namespace ferrule::label
