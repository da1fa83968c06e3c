#include "core/papers/page.h"

#include "absl/strings/str_cat.h"
#include "absl/strings/str_replace.h"
#include "core/time/civil.h"

namespace ferrule::papers {
namespace {

// Sizes in millimetres and points, so that print and screen agree; 190 mm fit A4 and Letter.
constexpr char kStyle[] =
    "@page{margin:12mm}"
    "body{font:10.5pt/1.35 sans-serif;color:#000;background:#fff;max-width:190mm;margin:0 auto}"
    "h1{font-size:17pt;margin:0}h2{font-size:11.5pt;margin:4mm 0 1mm;border-bottom:0.4mm solid "
    "#000}"
    "p{margin:1.5mm 0}.sub{margin:0 0 2mm;color:#333}"
    "dl{display:grid;grid-template-columns:38mm 1fr 38mm 1fr;gap:1mm 3mm;margin:1mm 0}"
    "dt{color:#333}dd{margin:0;font-weight:bold;overflow-wrap:anywhere}"
    ".w{border-bottom:0.3mm solid #000;min-height:5mm;font-weight:normal}"
    "table{border-collapse:collapse;width:100%;margin:1mm 0}"
    "th,td{border:0.2mm solid #444;padding:0.8mm 1.5mm;text-align:left;vertical-align:top}"
    "th{background:#eee}td:empty{min-width:20mm;height:5mm}"
    "td.n{white-space:nowrap}tr{break-inside:avoid}"
    "ul.b{list-style:none;padding:0;margin:1mm 0;display:grid;grid-template-columns:1fr 1fr;"
    "gap:1.6mm 8mm}"
    "ul.b li{padding-left:7mm;position:relative;break-inside:avoid}"
    "ul.b li:before{content:'';position:absolute;left:0;top:0.6mm;width:3.6mm;height:3.6mm;"
    "border:0.3mm solid #000}"
    ".c{border:0.6mm solid #000;padding:1.5mm 3mm;margin:2.5mm 0;break-inside:avoid}"
    ".c p:first-child{font-weight:bold}"
    ".s{display:grid;grid-template-columns:1fr 1fr;gap:9mm 8mm;margin-top:9mm}"
    ".s div{border-top:0.3mm solid #000;font-size:9pt}";

}  // namespace

std::string Escaped(std::string_view text) {
  return absl::StrReplaceAll(
      absl::string_view(text.data(), text.size()),
      {{"&", "&amp;"}, {"<", "&lt;"}, {">", "&gt;"}, {"\"", "&quot;"}, {"'", "&#39;"}});
}

Page::Page(std::string title, std::string subtitle)
    : title_(std::move(title)), subtitle_(std::move(subtitle)) {}

void Page::Heading(std::string_view text) {
  absl::StrAppend(&body_, "<h2>", Escaped(text), "</h2>\n");
}

void Page::Fields(const std::vector<std::pair<std::string, std::string>>& fields) {
  body_ += "<dl>";
  for (const auto& [name, value] : fields) {
    absl::StrAppend(
        &body_, "<dt>", Escaped(name), "</dt>",
        value.empty() ? std::string("<dd class=\"w\">") : absl::StrCat("<dd>", Escaped(value)),
        "</dd>\n");
  }
  body_ += "</dl>\n";
}

void Page::Table(const std::vector<std::string>& head,
                 const std::vector<std::vector<std::string>>& rows) {
  body_ += "<table><thead><tr>";  // repeated on every page
  for (const std::string& cell : head) absl::StrAppend(&body_, "<th>", Escaped(cell), "</th>");
  body_ += "</tr></thead>\n";
  for (const std::vector<std::string>& row : rows) {
    body_ += "<tr>";
    for (size_t i = 0; i < head.size(); ++i) {
      const std::string cell = i < row.size() ? row[i] : "";
      absl::StrAppend(&body_, time::ParseDay(cell).ok() ? "<td class=\"n\">" : "<td>",
                      Escaped(cell), "</td>");
    }
    body_ += "</tr>\n";
  }
  body_ += "</table>\n";
}

void Page::Boxes(const std::vector<std::string>& items) {
  body_ += "<ul class=\"b\">";
  for (const std::string& item : items) absl::StrAppend(&body_, "<li>", Escaped(item), "</li>\n");
  body_ += "</ul>\n";
}

void Page::Paragraph(std::string_view text) {
  absl::StrAppend(&body_, "<p>", Escaped(text), "</p>\n");
}

void Page::Caution(const std::vector<std::string>& sentences) {
  body_ += "<div class=\"c\">";
  for (const std::string& sentence : sentences) Paragraph(sentence);
  body_ += "</div>\n";
}

void Page::SignHere(const std::vector<std::string>& lines) {
  body_ += "<div class=\"s\">";
  for (const std::string& line : lines) absl::StrAppend(&body_, "<div>", Escaped(line), "</div>");
  body_ += "</div>\n";
}

std::string Page::Html() const {
  return absl::StrCat("<!doctype html>\n<html lang=\"en\"><head><meta charset=\"utf-8\"><title>",
                      Escaped(title_), "</title><style>", kStyle, "</style></head><body>\n<h1>",
                      Escaped(title_), "</h1>\n<p class=\"sub\">", Escaped(subtitle_), "</p>\n",
                      body_, "</body></html>\n");
}

}  // namespace ferrule::papers
