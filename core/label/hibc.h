// HIBC supplier labels (LIC): who made it, which product, and lot, serial number and dates behind.
#pragma once

#include <string>
#include <string_view>
#include <vector>

#include "absl/status/statusor.h"
#include "core/label/gs1.h"

namespace ferrule::label {

struct HibcLabel {
  // Labeler, product and unit of measure, for instance "A123BJC5D6E71"; empty when the code holds
  // only the secondary data.
  std::string device_identifier;
  std::string lot;
  std::string serial;
  // Every part with its flag as code; the device identifier has "+".
  std::vector<Element> elements;
};

// Whether a text begins as a HIBC label does, in the form of Code 39 ("*+...*") too.
bool IsHibc(std::string_view text);

// A primary code, a secondary one, or both in one. InvalidArgument says what is wrong with it and
// what to do. `year` is the present one. Structure and check character: "UDI formats by
// FDA-accredited issuing agency", version 1.3, and HIBC sections of scanner manuals; the flags of
// the secondary data are from memory.
absl::StatusOr<HibcLabel> ParseHibc(std::string_view text, int year);

}  // namespace ferrule::label
