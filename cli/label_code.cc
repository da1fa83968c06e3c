#include "cli/label_code.h"

#include <zint.h>

#include <memory>

#include "absl/strings/str_cat.h"
#include "absl/strings/str_format.h"
#include "core/late/library.h"

namespace ferrule::cli {
namespace {

constexpr int kQuiet = 2;  // modules

// libzint takes identifiers in square brackets, which no element holds as data.
std::string ForLibrary(const label::LabelCode& code) {
  if (!code.gs1) return code.payload;
  return absl::StrCat("[", code.payload.substr(0, 4), "]", code.payload.substr(4));
}

// The functions of libzint that are called here.
struct Zint {
  decltype(&ZBarcode_Create) create = nullptr;
  decltype(&ZBarcode_Delete) destroy = nullptr;
  decltype(&ZBarcode_Encode) encode = nullptr;
};

absl::StatusOr<Zint> LoadZint() {
  const absl::StatusOr<late::Library> library =
      late::Library::Open(FERRULE_ZINT_FILE, "libzint2.11");
  if (!library.ok()) return library.status();
  Zint zint;
  absl::Status status = library->Find("ZBarcode_Create", &zint.create);
  if (status.ok()) status = library->Find("ZBarcode_Delete", &zint.destroy);
  if (status.ok()) status = library->Find("ZBarcode_Encode", &zint.encode);
  if (!status.ok()) return status;
  return zint;
}

}  // namespace

absl::StatusOr<CodePicture> DrawDataMatrix(const label::LabelCode& code) {
  static const absl::StatusOr<Zint> zint = LoadZint();
  if (!zint.ok()) return zint.status();
  const std::unique_ptr<zint_symbol, decltype(&ZBarcode_Delete)> symbol(zint->create(),
                                                                        zint->destroy);
  if (symbol == nullptr) return absl::ResourceExhaustedError("no memory for a code");
  symbol->symbology = BARCODE_DATAMATRIX;
  symbol->input_mode = code.gs1 ? GS1_MODE : DATA_MODE;
  symbol->option_3 = DM_SQUARE;
  symbol->warn_level = WARN_FAIL_ALL;
  const std::string text = ForLibrary(code);
  const int failed = zint->encode(symbol.get(), reinterpret_cast<const unsigned char*>(text.data()),
                                  static_cast<int>(text.size()));
  if (failed != 0) {
    return absl::InvalidArgumentError(
        absl::StrCat("no code can be drawn for \"", code.people, "\": ", symbol->errtxt));
  }
  CodePicture picture;
  picture.width = symbol->width;
  picture.height = symbol->rows;
  for (int y = 0; y < picture.height; ++y) {
    for (int x = 0; x < picture.width; ++x) {
      picture.dark.push_back(((symbol->encoded_data[y][x >> 3] >> (x & 7)) & 1) != 0);
    }
  }
  return picture;
}

std::string CodeSvg(const CodePicture& picture, double width_mm) {
  std::string path;
  for (int y = 0; y < picture.height; ++y) {
    for (int x = 0; x < picture.width; ++x) {
      int run = 0;
      while (x + run < picture.width && picture.At(x + run, y)) ++run;
      if (run == 0) continue;
      absl::StrAppend(&path, "M", x + kQuiet, " ", y + kQuiet, "h", run, "v1h-", run, "z");
      x += run;
    }
  }
  return absl::StrFormat(
      "<svg class=\"code\" xmlns=\"http://www.w3.org/2000/svg\" width=\"%.1fmm\" viewBox=\"0 0 %d "
      "%d\" shape-rendering=\"crispEdges\"><path fill=\"#000\" d=\"%s\"/></svg>",
      width_mm, picture.width + 2 * kQuiet, picture.height + 2 * kQuiet, path);
}

}  // namespace ferrule::cli
