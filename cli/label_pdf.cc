#include "cli/label_pdf.h"

#include <algorithm>

#include "absl/strings/str_cat.h"
#include "absl/strings/str_format.h"
#include "cli/label_code.h"

namespace ferrule::cli {
namespace {

constexpr double kMm = 72 / 25.4;  // points
constexpr double kPageWidthMm = 210;
constexpr double kPageHeightMm = 297;
constexpr double kMarginMm = 8;
constexpr double kGapMm = 5;
constexpr double kCodeMm = 24;
constexpr double kPadMm = 3;
constexpr double kHeadMm = 8;
constexpr double kLetter = 0.6;  // width of every letter of Courier, of its size
constexpr double kSmallest = 5;  // points, of a letter that is still read
constexpr int kQuiet = 2;        // modules of nothing around a code

struct Size {
  double width_mm;
  double height_mm;
};
Size SizeOf(LabelKind kind) { return kind == LabelKind::kCard ? Size{62, 42} : Size{92, 58}; }

// The heading's ground, and whether the frame is heavy or broken: never told by colour alone.
struct Look {
  const char* ground;  // red, green, blue
  double frame_mm;
  bool broken;
};
Look LookOf(LabelKind kind) {
  switch (kind) {
    case LabelKind::kClean:
      return {"0.75 0.91 0.77", 0.7, false};
    case LabelKind::kSoiled:
      return {"0.96 0.72 0.69", 1.4, false};
    case LabelKind::kQuarantine:
      return {"1 0.88 0.4", 1.4, true};
    case LabelKind::kTransfer:
      return {"0.78 0.86 0.96", 0.7, false};
    default:
      return {"1 1 1", 0.7, false};
  }
}

// UTF-8 as the bytes of Latin-1, which the fonts' WinAnsiEncoding agrees with but for 0x80 to 0x9F.
absl::StatusOr<std::string> Latin(const std::string& text) {
  std::string out;
  for (size_t i = 0; i < text.size(); ++i) {
    const auto byte = static_cast<unsigned char>(text[i]);
    if (byte >= 0x20 && byte < 0x7F) {
      out += text[i];
      continue;
    }
    const bool two = (byte == 0xC2 || byte == 0xC3) && i + 1 < text.size();
    const int code = two ? ((byte & 3) << 6) | (static_cast<unsigned char>(text[i + 1]) & 63) : 0;
    if (code < 0xA0) {
      return absl::InvalidArgumentError(
          absl::StrCat("\"", text,
                       "\" has letters that a PDF's own fonts lack; print the page "
                       "instead: --out FILE.html"));
    }
    out += static_cast<char>(code);
    ++i;
  }
  return out;
}

std::string Literal(const std::string& latin) {
  std::string out = "(";
  for (const char c : latin) {
    if (c == '(' || c == ')' || c == '\\') out += '\\';
    out += c;
  }
  return out + ")";
}

// Cut at blanks where there are some, into lines of at most so many letters.
std::vector<std::string> Wrapped(const std::string& text, size_t most) {
  std::vector<std::string> lines;
  std::string rest = text;
  most = std::max<size_t>(most, 1);
  while (rest.size() > most) {
    size_t cut = rest.rfind(' ', most);
    const bool blank = cut != std::string::npos && cut > 0;
    if (!blank) cut = most;
    lines.push_back(rest.substr(0, cut));
    rest.erase(0, blank ? cut + 1 : cut);
  }
  lines.push_back(rest);
  return lines;
}

// One label, drawn from its upper left corner down.
class LabelDrawing {
 public:
  LabelDrawing(const LabelText& label, double left_mm, double top_mm)
      : label_(label), size_(SizeOf(label.kind)), left_(left_mm * kMm), top_(top_mm * kMm) {}

  absl::StatusOr<std::string> Draw() {
    const absl::StatusOr<CodePicture> picture = DrawDataMatrix(label_.code);
    if (!picture.ok()) return picture.status();
    Frame();
    Code(*picture);
    Texts();
    if (!status_.ok()) return status_;
    return out_;
  }

 private:
  double Right() const { return left_ + size_.width_mm * kMm; }
  double Bottom() const { return top_ - size_.height_mm * kMm; }

  void Frame() {
    const Look look = LookOf(label_.kind);
    absl::StrAppendFormat(&out_, "%s rg %.2f %.2f %.2f %.2f re f\n0 g\n", look.ground, left_,
                          top_ - kHeadMm * kMm, size_.width_mm * kMm, kHeadMm * kMm);
    absl::StrAppendFormat(&out_, "%.2f w %s 0 d %.2f %.2f %.2f %.2f re S [] 0 d\n",
                          look.frame_mm * kMm, look.broken ? "[9 5]" : "[]", left_, Bottom(),
                          size_.width_mm * kMm, size_.height_mm * kMm);
    absl::StrAppendFormat(&out_, "1 w %.2f %.2f m %.2f %.2f l S\n", left_, top_ - kHeadMm * kMm,
                          Right(), top_ - kHeadMm * kMm);
  }

  // The dark modules of a row, run by run, one path for the whole code.
  void Code(const CodePicture& picture) {
    const double module = kCodeMm * kMm / (picture.width + 2 * kQuiet);
    const double left = Right() - (kCodeMm + 1) * kMm + kQuiet * module;
    const double top = top_ - (kHeadMm + 1) * kMm - kQuiet * module;
    for (int y = 0; y < picture.height; ++y) {
      for (int x = 0; x < picture.width; ++x) {
        int run = 0;
        while (x + run < picture.width && picture.At(x + run, y)) ++run;
        if (run == 0) continue;
        absl::StrAppendFormat(&out_, "%.3f %.3f %.3f %.3f re\n", left + x * module,
                              top - (y + 1) * module, run * module, module);
        x += run;
      }
    }
    out_ += "f\n";
  }

  void Put(const char* font, double size, double x, double y, const std::string& latin) {
    absl::StrAppendFormat(&out_, "BT /%s %.1f Tf %.2f %.2f Td %s Tj ET\n", font, size, x, y,
                          Literal(latin));
  }

  // Lines from `y` down; returns where the next one stands.
  double Block(const char* font, double size, double x, double y, double width,
               const std::string& text) {
    const absl::StatusOr<std::string> latin = Latin(text);
    if (!latin.ok()) {
      status_.Update(latin.status());
      return y;
    }
    for (const std::string& line : Wrapped(*latin, static_cast<size_t>(width / (kLetter * size)))) {
      Put(font, size, x, y, line);
      y -= size * 1.2;
    }
    return y;
  }

  void Texts() {
    const double x = left_ + kPadMm * kMm;
    const double whole = (size_.width_mm - 2 * kPadMm) * kMm;
    const double beside = whole - kCodeMm * kMm;
    Block("B", 13, x, top_ - 5.7 * kMm, whole, label_.heading);
    // The tag in one line, as large as it may be.
    const double letters = std::max(1.0, static_cast<double>(label_.title.size()));
    const double size = std::clamp(beside / (kLetter * letters), 8.0, 18.0);
    const double y = Block("B", size, x, top_ - (kHeadMm + 1) * kMm - size, beside, label_.title);
    Block("C", 6, Right() - (kCodeMm + 1) * kMm, top_ - (kHeadMm + kCodeMm + 3.5) * kMm,
          kCodeMm * kMm, label_.code.people);
    double below = Bottom() + 2 * kMm;
    if (!label_.footing.empty()) {
      const auto rows = static_cast<double>(
          Wrapped(label_.footing, static_cast<size_t>(whole / (kLetter * 7))).size());
      Block("B", 7, x, below + (rows - 1) * 8.4, whole, label_.footing);
      below += rows * 8.4 + 3;
    }
    Lines(x, y, beside, ToFillIn(x, below, whole));
  }

  // The lines as large as they fit between `y` and `floor`.
  void Lines(double x, double y, double width, double floor) {
    std::vector<std::string> texts;
    for (const auto& [name, value] : label_.lines) {
      if (!value.empty()) texts.push_back(absl::StrCat(name, ": ", value));
    }
    double size = 8.5;
    double height = 0;
    do {
      size -= 0.5;
      size_t rows = 0;
      for (const std::string& text : texts) {
        rows += Wrapped(text, static_cast<size_t>(width / (kLetter * size))).size();
      }
      height = static_cast<double>(rows) * size * 1.2;
    } while (height > y - floor && size > kSmallest);
    if (height > y - floor) {
      status_.Update(absl::InvalidArgumentError(
          absl::StrCat("the lines of ", label_.title,
                       " do not fit on a label of this size; print the page instead: --out "
                       "FILE.html")));
    }
    for (const std::string& text : texts) y = Block("C", size, x, y, width, text);
  }

  // Two blanks to a line, each with its words and a line for the pen; returns where the space above
  // them begins.
  double ToFillIn(double x, double y, double width) {
    const size_t count = label_.to_fill_in.size();
    for (size_t i = 0; i < count; ++i) {
      const size_t row = (count - 1) / 2 - i / 2;  // the first ones are uppermost
      const double left = x + static_cast<double>(i % 2) * width / 2;
      const double base = y + static_cast<double>(row) * 15;
      Block("C", 6, left, base + 2, width / 2, label_.to_fill_in[i]);
      absl::StrAppendFormat(&out_, "0.8 w %.2f %.2f m %.2f %.2f l S\n", left, base,
                            left + width / 2 - 6, base);
    }
    return y + static_cast<double>((count + 1) / 2) * 15;
  }

  const LabelText& label_;
  const Size size_;
  const double left_;
  const double top_;
  std::string out_;
  absl::Status status_;
};

// Objects one after the other, and the table of where each begins.
class PdfFile {
 public:
  int Add(const std::string& body) {
    offsets_.push_back(out_.size());
    const int number = static_cast<int>(offsets_.size());
    absl::StrAppend(&out_, number, " 0 obj\n", body, "\nendobj\n");
    return number;
  }
  std::string End(int root) {
    const size_t table = out_.size();
    absl::StrAppend(&out_, "xref\n0 ", offsets_.size() + 1, "\n0000000000 65535 f \n");
    for (const size_t offset : offsets_) absl::StrAppendFormat(&out_, "%010d 00000 n \n", offset);
    absl::StrAppend(&out_, "trailer\n<< /Size ", offsets_.size() + 1, " /Root ", root,
                    " 0 R >>\nstartxref\n", table, "\n%%EOF\n");
    return std::move(out_);
  }

 private:
  std::string out_ = "%PDF-1.4\n%\xE2\xE3\xCF\xD3\n";
  std::vector<size_t> offsets_;
};

// What stands on each page.
absl::StatusOr<std::vector<std::string>> DrawPages(const std::vector<LabelText>& labels) {
  std::vector<std::string> pages;
  double x = kMarginMm;
  double y = kPageHeightMm;  // no page yet
  double row_mm = 0;
  for (const LabelText& label : labels) {
    const Size size = SizeOf(label.kind);
    if (x + size.width_mm > kPageWidthMm - kMarginMm) {
      x = kMarginMm;
      y += row_mm + kGapMm;
      row_mm = 0;
    }
    if (y + size.height_mm > kPageHeightMm - kMarginMm) {
      pages.emplace_back();
      x = kMarginMm;
      y = kMarginMm;
      row_mm = 0;
    }
    const absl::StatusOr<std::string> drawn = LabelDrawing(label, x, kPageHeightMm - y).Draw();
    if (!drawn.ok()) return drawn.status();
    pages.back() += *drawn;
    x += size.width_mm + kGapMm;
    row_mm = std::max(row_mm, size.height_mm);
  }
  if (pages.empty()) pages.emplace_back();
  return pages;
}

}  // namespace

absl::StatusOr<std::string> SheetPdf(const std::vector<LabelText>& labels) {
  const absl::StatusOr<std::vector<std::string>> pages = DrawPages(labels);
  if (!pages.ok()) return pages.status();
  PdfFile file;
  const auto font = [&](const char* name) {
    return file.Add(absl::StrCat("<< /Type /Font /Subtype /Type1 /BaseFont /", name,
                                 " /Encoding /WinAnsiEncoding >>"));
  };
  const int plain = font("Courier");
  const int bold = font("Courier-Bold");
  // Every page has two objects; the list of pages comes after them.
  const int list = bold + 2 * static_cast<int>(pages->size()) + 1;
  std::string kids;
  for (const std::string& content : *pages) {
    const int stream = file.Add(
        absl::StrCat("<< /Length ", content.size(), " >>\nstream\n", content, "\nendstream"));
    const int page = file.Add(absl::StrFormat(
        "<< /Type /Page /Parent %d 0 R /MediaBox [0 0 %.2f %.2f] /Contents %d 0 R /Resources << "
        "/Font << /C %d 0 R /B %d 0 R >> >> >>",
        list, kPageWidthMm * kMm, kPageHeightMm * kMm, stream, plain, bold));
    absl::StrAppend(&kids, page, " 0 R ");
  }
  file.Add(absl::StrCat("<< /Type /Pages /Kids [", kids, "] /Count ", pages->size(), " >>"));
  return file.End(file.Add(absl::StrCat("<< /Type /Catalog /Pages ", list, " 0 R >>")));
}

}  // namespace ferrule::cli
