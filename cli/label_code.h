// Two-dimensional codes of labels, drawn.
#pragma once

#include <string>
#include <vector>

#include "absl/status/statusor.h"
#include "core/label/tag.h"

namespace ferrule::cli {

// The modules of a code, row by row from the top.
struct CodePicture {
  int width = 0;
  int height = 0;
  std::vector<bool> dark;  // width * height

  bool At(int x, int y) const { return dark[static_cast<size_t>(y * width + x)]; }
};

// A Data Matrix with this payload; as GS1 Data Matrix when the payload is an element string.
// InvalidArgument when it has characters that such a code cannot hold, or too many.
absl::StatusOr<CodePicture> DrawDataMatrix(const label::LabelCode& code);

// The picture as an SVG element of that width, with the quiet zone of one module that the code
// needs (ISO/IEC 16022; from memory) and one more.
std::string CodeSvg(const CodePicture& picture, double width_mm);

}  // namespace ferrule::cli
