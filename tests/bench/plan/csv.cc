#include "tests/bench/plan/csv.h"

#include <cstdlib>
#include <fstream>
#include <iostream>
#include <sstream>

namespace ferrule::bench {
namespace {

[[noreturn]] void Stop(const std::string& message) {
  std::cerr << message << "\n";
  std::exit(2);
}

std::vector<std::string> Split(std::string line) {
  if (!line.empty() && line.back() == '\r') line.pop_back();
  std::vector<std::string> cells;
  std::string cell;
  std::istringstream in(line);
  while (std::getline(in, cell, ',')) {
    if (cell.size() >= 2 && cell.front() == '"' && cell.back() == '"')
      cell = cell.substr(1, cell.size() - 2);
    cells.push_back(cell);
  }
  if (!line.empty() && line.back() == ',') cells.push_back("");
  return cells;
}

}  // namespace

const std::string& Table::At(size_t row, const std::string& column) const {
  const auto it = columns.find(column);
  if (it == columns.end()) Stop("no column named " + column);
  return rows[row][it->second];
}

double Table::Number(size_t row, const std::string& column) const {
  const std::string& text = At(row, column);
  if (text.empty() || text == "NA") return kMissing;
  char* end = nullptr;
  const double value = std::strtod(text.c_str(), &end);
  if (end == text.c_str() || *end != '\0') Stop("'" + text + "' in column " + column);
  return value;
}

Table ReadTable(const std::string& path) {
  std::ifstream in(path);
  std::string line;
  if (!std::getline(in, line)) Stop(path + " cannot be read or is empty");
  Table table;
  const std::vector<std::string> header = Split(line);
  for (size_t i = 0; i < header.size(); ++i) table.columns[header[i]] = i;
  while (std::getline(in, line)) {
    if (line.empty()) continue;
    table.rows.push_back(Split(line));
    if (table.rows.back().size() != header.size())
      Stop(path + ": a row with " + std::to_string(table.rows.back().size()) + " cells");
  }
  return table;
}

}  // namespace ferrule::bench
