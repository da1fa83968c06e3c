#include "cli/render_table.h"

#include <algorithm>
#include <cctype>
#include <utility>

#include "absl/strings/numbers.h"
#include "absl/strings/str_cat.h"

namespace ferrule::cli {
namespace {

// Width on a terminal: code points, which is right for the scripts that the depots write in.
size_t Width(const std::string& text) {
  return static_cast<size_t>(std::count_if(text.begin(), text.end(), [](char c) {
    return (static_cast<unsigned char>(c) & 0xC0U) != 0x80U;
  }));
}

bool IsNumber(const std::string& cell) {
  double ignored = 0;
  return !cell.empty() && (std::isdigit(static_cast<unsigned char>(cell.back())) != 0) &&
         absl::SimpleAtod(cell, &ignored);
}

std::string CsvCell(const std::string& cell) {
  std::string guarded = cell;
  if (!cell.empty() &&
      absl::string_view("=+-@\t\r").find(cell.front()) != absl::string_view::npos &&
      !IsNumber(cell)) {
    guarded.insert(guarded.begin(), '\'');
  }
  if (guarded.find_first_of(",\"\r\n") == std::string::npos) return guarded;
  std::string quoted = "\"";
  for (const char c : guarded) {
    if (c == '"') quoted += '"';
    quoted += c;
  }
  return quoted + '"';
}

std::string Heading(const std::string& key) {
  // "on_rent_count" is counted anyway: ON RENT.
  std::string heading = key;
  if (heading.size() > 6 && heading.ends_with("_count")) heading.resize(heading.size() - 6);
  for (char& c : heading) {
    c = c == '_' ? ' ' : static_cast<char>(std::toupper(static_cast<unsigned char>(c)));
  }
  return heading;
}

}  // namespace

std::string Printable(std::string_view text) {
  std::string printable(text);
  for (char& c : printable) {
    const auto byte = static_cast<unsigned char>(c);
    if (byte < 0x20 || byte == 0x7F) c = byte == '\n' ? ' ' : '?';
  }
  return printable;
}

void Table::Add(std::vector<std::string> cells) { rows_.push_back(std::move(cells)); }

std::string Table::Text() const {
  std::vector<size_t> widths(columns_.size(), 0);
  size_t last = 0;
  for (const std::vector<std::string>& row : rows_) {
    for (size_t c = 0; c < columns_.size(); ++c) {
      if (row[c].empty()) continue;
      widths[c] = std::max({widths[c], Width(row[c]), Width(Heading(columns_[c].key))});
      last = std::max(last, c);
    }
  }
  const auto line = [&](const auto& cell_of) {
    std::string text;
    for (size_t c = 0; c <= last && c < columns_.size(); ++c) {
      if (widths[c] == 0) continue;
      const std::string cell = Printable(cell_of(c));
      const size_t gap = widths[c] - std::min(widths[c], Width(cell));
      if (!text.empty()) text += "  ";
      if (columns_[c].right) text.append(gap, ' ');
      text += cell;
      if (!columns_[c].right && c != last) text.append(gap, ' ');
    }
    return text.substr(0, text.find_last_not_of(' ') + 1) + "\n";
  };
  std::string text = line([&](size_t c) { return Heading(columns_[c].key); });
  for (const std::vector<std::string>& row : rows_) {
    text += line([&](size_t c) { return row[c]; });
  }
  return text;
}

std::string Table::Csv() const {
  const auto line = [&](const auto& cell_of) {
    std::string text;
    for (size_t c = 0; c < columns_.size(); ++c) {
      if (c > 0) text += ',';
      text += CsvCell(cell_of(c));
    }
    return text + "\r\n";
  };
  std::string text = line([&](size_t c) { return columns_[c].key; });
  for (const std::vector<std::string>& row : rows_) {
    text += line([&](size_t c) { return row[c]; });
  }
  return text;
}

}  // namespace ferrule::cli
