#include "cli/label_sheet.h"

#include "absl/strings/str_cat.h"
#include "absl/strings/str_replace.h"
#include "cli/label_code.h"

namespace ferrule::cli {
namespace {

constexpr double kCodeWidthMm = 24;

// Every kind is told by its word and its frame as well as by its colour.
constexpr char kStyle[] = R"css(
@page { margin: 8mm; }
* { box-sizing: border-box; }
body { margin: 0; font: 9pt/1.25 "DejaVu Sans", Arial, sans-serif; color: #000; background: #fff;
  display: flex; flex-wrap: wrap; gap: 5mm; }
.label { width: 92mm; min-height: 58mm; padding: 0 3mm 2mm; border: .7mm solid #000;
  border-radius: 2mm; break-inside: avoid; display: flex; flex-direction: column;
  overflow-wrap: anywhere; -webkit-print-color-adjust: exact; print-color-adjust: exact; }
.head { margin: 0 -3mm; padding: 1mm 3mm; font-weight: bold; font-size: 13pt; letter-spacing: .06em;
  border-bottom: .7mm solid #000; }
.body { display: flex; gap: 2mm; flex: 1; padding-top: 1mm; }
.text { flex: 1; min-width: 0; }
.title { font-size: 18pt; font-weight: bold; line-height: 1.15; }
dl { margin: 1mm 0 0; display: grid; grid-template-columns: auto 1fr; gap: 0 2mm; }
dt { color: #444; } dd { margin: 0; }
.side { width: 25mm; text-align: center; font-size: 6.5pt; }
.code { display: block; }
.fill { display: flex; flex-wrap: wrap; gap: 1mm 3mm; padding-top: 1.5mm; }
.fill span { flex: 1 1 34mm; border-bottom: .3mm solid #000; padding-bottom: .5mm; color: #444; }
.foot { padding-top: 1mm; font-size: 8pt; font-weight: bold; }
.clean .head { background: #bfe8c5; }
.soiled .head { background: #f6b8b1; }
.soiled { border-width: 1.4mm; }
.quarantine .head { background: repeating-linear-gradient(135deg, #ffe066 0 5mm, #fff 5mm 8mm); }
.quarantine { border: 1.4mm dashed #000; }
.transfer .head { background: #c6dcf5; }
.card { width: 62mm; min-height: 42mm; }
)css";

const char* ClassOf(LabelKind kind) {
  switch (kind) {
    case LabelKind::kUnit:
      return "unit";
    case LabelKind::kClean:
      return "clean";
    case LabelKind::kSoiled:
      return "soiled";
    case LabelKind::kQuarantine:
      return "quarantine";
    case LabelKind::kTransfer:
      return "transfer";
    case LabelKind::kCard:
      return "card";
  }
  return "unit";
}

std::string Escaped(const std::string& text) {
  return absl::StrReplaceAll(text,
                             {{"&", "&amp;"}, {"<", "&lt;"}, {">", "&gt;"}, {"\"", "&quot;"}});
}

std::string Lines(const LabelText& label) {
  if (label.lines.empty()) return "";
  std::string html = "<dl>";
  for (const auto& [name, value] : label.lines) {
    if (value.empty()) continue;
    absl::StrAppend(&html, "<dt>", Escaped(name), "</dt><dd>", Escaped(value), "</dd>");
  }
  return html + "</dl>";
}

std::string Blanks(const LabelText& label) {
  if (label.to_fill_in.empty()) return "";
  std::string html = "<div class=\"fill\">";
  for (const std::string& blank : label.to_fill_in) {
    absl::StrAppend(&html, "<span>", Escaped(blank), "</span>");
  }
  return html + "</div>";
}

absl::StatusOr<std::string> LabelHtml(const LabelText& label) {
  const absl::StatusOr<CodePicture> picture = DrawDataMatrix(label.code);
  if (!picture.ok()) return picture.status();
  std::string html = absl::StrCat("<section class=\"label ", ClassOf(label.kind), "\">\n");
  absl::StrAppend(&html, "<div class=\"head\">", Escaped(label.heading), "</div>\n");
  absl::StrAppend(&html, "<div class=\"body\"><div class=\"text\"><div class=\"title\">",
                  Escaped(label.title), "</div>", Lines(label), "</div>\n");
  absl::StrAppend(&html, "<div class=\"side\">", CodeSvg(*picture, kCodeWidthMm),
                  Escaped(label.code.people), "</div></div>\n");
  absl::StrAppend(&html, Blanks(label));
  if (!label.footing.empty()) {
    absl::StrAppend(&html, "<div class=\"foot\">", Escaped(label.footing), "</div>");
  }
  return html + "</section>\n";
}

}  // namespace

absl::StatusOr<std::string> SheetHtml(const std::vector<LabelText>& labels) {
  std::string html = absl::StrCat(
      "<!DOCTYPE html>\n<html lang=\"en\"><head><meta charset=\"utf-8\"><title>Labels</title>"
      "<style>",
      kStyle, "</style></head><body>\n");
  for (const LabelText& label : labels) {
    const absl::StatusOr<std::string> one = LabelHtml(label);
    if (!one.ok()) return one.status();
    html += *one;
  }
  return html + "</body></html>\n";
}

}  // namespace ferrule::cli
