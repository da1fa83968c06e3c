// Comma-separated tables without quoting, as the planner's yardsticks use them.
#pragma once

#include <map>
#include <string>
#include <vector>

namespace ferrule::bench {

struct Table {
  std::map<std::string, size_t> columns;
  std::vector<std::vector<std::string>> rows;

  bool Has(const std::string& column) const { return columns.count(column) > 0; }
  // Ends the program with a message when there is no such column.
  const std::string& At(size_t row, const std::string& column) const;
  double Number(size_t row, const std::string& column) const;  // `missing` below for "" and NA
};

inline constexpr double kMissing = -1e18;

// Ends the program with a message when the file cannot be read.
Table ReadTable(const std::string& path);

}  // namespace ferrule::bench
