#include "cli/page.h"

#include <algorithm>
#include <cmath>

#include "absl/strings/str_cat.h"
#include "absl/strings/str_format.h"

namespace ferrule::cli {
namespace {

// Colours by what they mean; the second set is for dark screens.
constexpr char kStyle[] = R"(
:root{--paper:#fbfaf6;--ink:#22303a;--soft:#6b7680;--line:#d8d5ca;--main:#1f6f78;--inner:#8fc1c0;
--outer:#d3e5e2;--limit:#b3541e;--warn:#fff1e2}
@media (prefers-color-scheme:dark){:root{--paper:#182126;--ink:#e4e2da;--soft:#9aa5ab;--line:#38454c;
--main:#7fd0cb;--inner:#2f6f72;--outer:#244a4f;--limit:#f0a06a;--warn:#40301f}}
*{box-sizing:border-box}
body{margin:0 auto;padding:1rem;max-width:56rem;background:var(--paper);color:var(--ink);
font:16px/1.5 system-ui,sans-serif}
h1{font-size:1.5rem;margin:.2rem 0}h2{font-size:1.15rem;margin:2rem 0 .3rem;border-top:2px solid var(--line);
padding-top:.8rem}p{margin:.4rem 0}.sub{color:var(--soft)}
.warn{background:var(--warn);border-left:4px solid var(--limit);padding:.4rem .7rem}
figure{margin:1rem 0}figcaption{font-weight:600;margin-bottom:.3rem}
svg{width:100%;height:auto;display:block}
svg text{fill:var(--soft);font-size:12px}
.grid{stroke:var(--line);stroke-width:1}.main{fill:none;stroke:var(--main);stroke-width:2.5}
.faint{fill:none;stroke:var(--soft);stroke-width:1.5;stroke-dasharray:4 3}
.limit{fill:none;stroke:var(--limit);stroke-width:2;stroke-dasharray:8 4}
.outer{fill:var(--outer)}.inner{fill:var(--inner)}.bar{fill:var(--main)}
.key{display:flex;flex-wrap:wrap;gap:.2rem 1rem;font-size:.85rem;color:var(--soft)}
.key svg{width:2rem;height:.8rem;display:inline-block;vertical-align:middle;margin-right:.3rem}
.wide{overflow-x:auto}table{border-collapse:collapse;font-size:.85rem;font-variant-numeric:tabular-nums}
th,td{padding:.15rem .6rem;text-align:right;border-bottom:1px solid var(--line);white-space:nowrap}
th:first-child,td:first-child{text-align:left}
details{margin:.5rem 0}summary{cursor:pointer;color:var(--soft)}
@media (max-width:34rem){svg text{font-size:17px}}
@media print{body{max-width:none;background:#fff;color:#000}details>*{display:block}
figure{break-inside:avoid}}
)";

constexpr double kWide = 640, kHigh = 280, kLeft = 46, kRight = 12, kTop = 26, kBottom = 30;

// A round number of about a fifth of the range.
double Tick(double range) {
  const double raw = range / 5, power = std::pow(10, std::floor(std::log10(std::max(raw, 1e-9))));
  for (const double factor : {1.0, 2.0, 5.0})
    if (raw <= factor * power) return factor * power;
  return 10 * power;
}

class Frame {
 public:
  Frame(size_t steps, double most) : steps_(std::max<size_t>(steps, 1)), most_(most) {
    tick_ = Tick(most);
    most_ = std::ceil(most / tick_) * tick_;
  }
  double X(size_t i) const {
    const double span = kWide - kLeft - kRight;
    return steps_ == 1 ? kLeft + span / 2
                       : kLeft + span * static_cast<double>(i) / static_cast<double>(steps_ - 1);
  }
  double Y(double v) const {
    return kHigh - kBottom - (kHigh - kTop - kBottom) * std::clamp(v / most_, 0.0, 1.0);
  }
  std::string Grid(const std::vector<std::string>& labels, const std::string& unit) const {
    std::string out;
    for (double v = 0; v <= most_ + tick_ / 2; v += tick_) {
      absl::StrAppendFormat(&out,
                            "<line class=\"grid\" x1=\"%.1f\" x2=\"%.1f\" y1=\"%.1f\" y2=\"%.1f\"/>"
                            "<text x=\"%.1f\" y=\"%.1f\" text-anchor=\"end\">%g</text>",
                            kLeft, kWide - kRight, Y(v), Y(v), kLeft - 6, Y(v) + 4, v);
    }
    const size_t every = std::max<size_t>(1, (labels.size() + 6) / 7);
    for (size_t i = 0; i < labels.size(); i += every) {
      absl::StrAppendFormat(&out, "<text x=\"%.1f\" y=\"%.1f\" text-anchor=\"middle\">%s</text>",
                            std::clamp(X(i), kLeft + 14, kWide - 34), kHigh - 10,
                            Escaped(labels[i]));
    }
    absl::StrAppendFormat(&out, "<text x=\"%.1f\" y=\"%.1f\">%s</text>", 4.0, kTop - 12,
                          Escaped(unit));
    return out;
  }
  std::string Path(const std::vector<double>& values) const {
    std::string path;
    bool down = false;
    for (size_t i = 0; i < values.size(); ++i) {
      if (std::isnan(values[i])) {
        down = false;
        continue;
      }
      absl::StrAppendFormat(&path, "%s%.1f %.1f", down ? "L" : "M", X(i), Y(values[i]));
      down = true;
    }
    return path;
  }
  std::string Area(const ChartBand& band) const {
    std::string path;
    std::vector<size_t> at;
    for (size_t i = 0; i < band.low.size() && i < band.high.size(); ++i)
      if (!std::isnan(band.low[i]) && !std::isnan(band.high[i])) at.push_back(i);
    for (const size_t i : at)
      absl::StrAppendFormat(&path, "%s%.1f %.1f", path.empty() ? "M" : "L", X(i), Y(band.high[i]));
    for (size_t k = at.size(); k-- > 0;)
      absl::StrAppendFormat(&path, "L%.1f %.1f", X(at[k]), Y(band.low[at[k]]));
    return path.empty() ? path : path + "Z";
  }

 private:
  size_t steps_;
  double most_, tick_ = 1;
};

const char* ClassOf(ChartLine::Look look) {
  return look == ChartLine::Look::kMain    ? "main"
         : look == ChartLine::Look::kLimit ? "limit"
                                           : "faint";
}

std::string KeyOf(const Chart& chart) {
  std::string out = "<div class=\"key\">";
  const auto add = [&](const std::string& shape, const std::string& label) {
    absl::StrAppend(&out, "<span><svg viewBox=\"0 0 32 12\" aria-hidden=\"true\">", shape, "</svg>",
                    Escaped(label), "</span>");
  };
  for (const ChartLine& line : chart.lines) {
    add(absl::StrCat("<path class=\"", ClassOf(line.look), "\" d=\"M0 6L32 6\"/>"), line.label);
  }
  for (const ChartBand& band : chart.bands) {
    add(absl::StrCat("<rect class=\"", band.inner ? "inner" : "outer",
                     "\" width=\"32\" height=\"12\"/>"),
        band.label);
  }
  return out + "</div>";
}

// Cells of a table's CSV, which is the one place that gives them.
std::string Rows(const std::string& csv) {
  std::string out;
  bool head = true, quoted = false;
  std::string cell;
  std::vector<std::string> cells;
  const auto end_row = [&] {
    cells.push_back(cell);
    cell.clear();
    out += head ? "<thead><tr>" : "<tr>";
    for (const std::string& c : cells) {
      absl::StrAppend(&out, head ? "<th scope=\"col\">" : "<td>", Escaped(c),
                      head ? "</th>" : "</td>");
    }
    out += head ? "</tr></thead><tbody>" : "</tr>";
    head = false;
    cells.clear();
  };
  for (size_t i = 0; i < csv.size(); ++i) {
    const char c = csv[i];
    if (quoted && c == '"' && i + 1 < csv.size() && csv[i + 1] == '"') {
      cell += '"';
      ++i;
    } else if (c == '"') {
      quoted = !quoted;
    } else if (!quoted && c == ',') {
      cells.push_back(cell);
      cell.clear();
    } else if (!quoted && c == '\n') {
      end_row();
    } else if (c != '\r') {
      cell += c;
    }
  }
  return out + "</tbody>";
}

}  // namespace

std::string Escaped(const std::string& text) {
  std::string out;
  for (const char c : Printable(text)) {
    switch (c) {
      case '&':
        out += "&amp;";
        break;
      case '<':
        out += "&lt;";
        break;
      case '>':
        out += "&gt;";
        break;
      case '"':
        out += "&quot;";
        break;
      default:
        out += c;
    }
  }
  return out;
}

Page::Page(const std::string& title, const std::string& subtitle) : title_(title) {
  absl::StrAppend(&body_, "<h1>", Escaped(title), "</h1><p class=\"sub\">", Escaped(subtitle),
                  "</p>");
}

void Page::Heading(const std::string& text) {
  absl::StrAppend(&body_, "<h2>", Escaped(text), "</h2>");
}

void Page::Paragraph(const std::string& text) {
  absl::StrAppend(&body_, "<p>", Escaped(text), "</p>");
}

void Page::Warning(const std::string& text) {
  absl::StrAppend(&body_, "<p class=\"warn\" role=\"note\">", Escaped(text), "</p>");
}

void Page::Add(const Chart& chart) {
  double most = std::max(chart.most, 1e-9);
  for (const ChartBand& band : chart.bands)
    for (double v : band.high)
      if (!std::isnan(v)) most = std::max(most, v);
  for (const ChartLine& line : chart.lines)
    for (double v : line.values)
      if (!std::isnan(v)) most = std::max(most, v);
  const Frame frame(chart.steps.size(), most * 1.02);
  const int n = ++pictures_;
  absl::StrAppendFormat(
      &body_,
      "<figure><figcaption>%s</figcaption><svg viewBox=\"0 0 %g %g\" role=\"img\" "
      "aria-labelledby=\"t%d d%d\"><title id=\"t%d\">%s</title><desc id=\"d%d\">%s</desc>",
      Escaped(chart.title), kWide, kHigh, n, n, n, Escaped(chart.title), n,
      Escaped(chart.description));
  for (const ChartBand& band : chart.bands) {
    absl::StrAppend(&body_, "<path class=\"", band.inner ? "inner" : "outer", "\" d=\"",
                    frame.Area(band), "\"/>");
  }
  body_ += frame.Grid(chart.steps, chart.unit);
  for (const ChartLine& line : chart.lines) {
    absl::StrAppend(&body_, "<path class=\"", ClassOf(line.look), "\" d=\"",
                    frame.Path(line.values), "\"/>");
  }
  absl::StrAppend(&body_, "</svg>", KeyOf(chart), "</figure>");
}

void Page::AddBars(const std::string& title, const std::string& description,
                   const std::vector<Bar>& bars) {
  double most = 1e-9;
  for (const Bar& bar : bars) most = std::max(most, bar.value);
  const int n = ++pictures_;
  const double high = 26 * static_cast<double>(bars.size()) + 6, from = 250,
               room = kWide - from - 70;
  absl::StrAppendFormat(
      &body_,
      "<figure><figcaption>%s</figcaption><svg viewBox=\"0 0 %g %g\" role=\"img\" "
      "aria-labelledby=\"t%d d%d\"><title id=\"t%d\">%s</title><desc id=\"d%d\">%s</desc>",
      Escaped(title), kWide, high, n, n, n, Escaped(title), n, Escaped(description));
  double y = 4;
  for (const Bar& bar : bars) {
    absl::StrAppendFormat(
        &body_,
        "<text x=\"%g\" y=\"%g\" text-anchor=\"end\">%s</text><rect class=\"bar\" x=\"%g\" "
        "y=\"%g\" width=\"%.1f\" height=\"18\" rx=\"2\"/><text x=\"%.1f\" y=\"%g\">%s</text>",
        from - 8, y + 14, Escaped(bar.label), from, y, std::max(0.0, bar.value / most * room),
        from + std::max(0.0, bar.value / most * room) + 6, y + 14, Escaped(bar.text));
    y += 26;
  }
  body_ += "</svg></figure>";
}

void Page::Add(const std::string& caption, const Table& table) {
  constexpr size_t kShort = 12;
  const bool folded = table.size() > kShort;
  if (folded) {
    absl::StrAppend(&body_, "<details><summary>", Escaped(caption), "</summary>");
  }
  absl::StrAppend(&body_, "<div class=\"wide\"><table>",
                  folded ? "" : "<caption>" + Escaped(caption) + "</caption>", Rows(table.Csv()),
                  "</table></div>");
  if (folded) body_ += "</details>";
}

std::string Page::Html() const {
  return absl::StrCat(
      "<!DOCTYPE html>\n<html lang=\"en\"><head><meta charset=\"utf-8\"><meta name=\"viewport\" "
      "content=\"width=device-width,initial-scale=1\"><meta name=\"color-scheme\" content=\"light "
      "dark\"><meta http-equiv=\"Content-Security-Policy\" content=\"default-src 'none'; "
      "style-src 'unsafe-inline'\"><title>",
      Escaped(title_), "</title><style>", kStyle, "</style></head><body><main>", body_,
      "</main></body></html>\n");
}

}  // namespace ferrule::cli
