// Labels as a sheet to print: one self-contained page of HTML with the codes as SVG in it.
#pragma once

#include <string>
#include <utility>
#include <vector>

#include "absl/status/statusor.h"
#include "core/label/tag.h"

namespace ferrule::cli {

enum class LabelKind { kUnit, kClean, kSoiled, kQuarantine, kTransfer, kCard };

// What stands on one label. Never a patient's name or particulars, and no order: labels are read by
// everybody who passes.
struct LabelText {
  LabelKind kind = LabelKind::kUnit;
  std::string heading;                                     // "SOILED"
  std::string title;                                       // the tag as on the label
  std::vector<std::pair<std::string, std::string>> lines;  // "model", "knee-a"
  std::vector<std::string> to_fill_in;                     // blanks for the pen
  std::string footing;                                     // what the reader must know
  label::LabelCode code;
};

// InvalidArgument when a code cannot be drawn.
absl::StatusOr<std::string> SheetHtml(const std::vector<LabelText>& labels);

}  // namespace ferrule::cli
