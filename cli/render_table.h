// The one place where tables are laid out: aligned text and CSV out of the same cells.
#pragma once

#include <string>
#include <string_view>
#include <vector>

namespace ferrule::cli {

// The text with control characters (a terminal would obey them) replaced by '?'.
std::string Printable(std::string_view text);

class Table {
 public:
  struct Column {
    std::string key;     // "overdue_days": heads the CSV column, and in capitals the text column
    bool right = false;  // numbers stand to the right
  };

  explicit Table(std::vector<Column> columns) : columns_(std::move(columns)) {}

  // Precondition: as many cells as columns.
  void Add(std::vector<std::string> cells);
  bool empty() const { return rows_.empty(); }
  size_t size() const { return rows_.size(); }

  // Aligned with two blanks between columns. Columns that are empty in every row are left out.
  std::string Text() const;
  // RFC 4180 with a header line. A cell that a spreadsheet would take for a formula (it begins
  // with = + - @, a tab or a carriage return and is no number) gets an apostrophe in front.
  std::string Csv() const;

 private:
  std::vector<Column> columns_;
  std::vector<std::vector<std::string>> rows_;
};

}  // namespace ferrule::cli
