// One self-contained page of pictures: no script, nothing from outside, inline SVG with titles and
// descriptions, and every number again in a table. Readable on a phone, in print, light and dark.
#pragma once

#include <string>
#include <vector>

#include "cli/render_table.h"

namespace ferrule::cli {

// Text as it may stand in a page.
std::string Escaped(const std::string& text);

// Values over steps; NaN leaves a gap.
struct ChartLine {
  enum class Look { kMain, kFaint, kLimit };
  std::string label;
  Look look = Look::kMain;
  std::vector<double> values;
};
struct ChartBand {
  std::string label;
  bool inner = false;  // the darker one
  std::vector<double> low, high;
};
struct Chart {
  std::string title;               // what it shows, one line
  std::string description;         // what is to be seen in it, for who cannot see it
  std::string unit;                // of the upright axis
  std::vector<std::string> steps;  // labels along the level axis
  std::vector<ChartBand> bands;
  std::vector<ChartLine> lines;
  double most = 0;  // at least so high
};
// Lengths of one thing each.
struct Bar {
  std::string label;
  double value = 0;
  std::string text;  // the figure as written
};

class Page {
 public:
  // `subtitle`: as of when and from what.
  Page(const std::string& title, const std::string& subtitle);

  void Heading(const std::string& text);
  void Paragraph(const std::string& text);
  // A line that must not be overlooked.
  void Warning(const std::string& text);
  void Add(const Chart& chart);
  void AddBars(const std::string& title, const std::string& description,
               const std::vector<Bar>& bars);
  // The numbers of the pictures; folded away when it is long.
  void Add(const std::string& caption, const Table& table);

  std::string Html() const;

 private:
  std::string title_;
  std::string body_;
  int pictures_ = 0;
};

}  // namespace ferrule::cli
