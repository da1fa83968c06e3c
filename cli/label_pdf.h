// Labels as a PDF to print: A4 pages, the codes as filled squares, text in the fonts that every
// reader of PDF has (ISO 32000-1, 9.6.2.2, the standard 14 fonts; from memory).
#pragma once

#include <string>
#include <vector>

#include "absl/status/statusor.h"
#include "cli/label_sheet.h"

namespace ferrule::cli {

// InvalidArgument when a code cannot be drawn, or a text has letters beyond Latin-1, which those
// fonts lack: nothing is printed as something else.
absl::StatusOr<std::string> SheetPdf(const std::vector<LabelText>& labels);

}  // namespace ferrule::cli
