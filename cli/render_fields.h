// One subject as a list of named values.
#pragma once

#include <string>
#include <utility>
#include <vector>

#include "cli/render_table.h"

namespace ferrule::cli {

class Fields {
 public:
  // Empty values are left out.
  void Add(std::string name, std::string value);

  // "  name   value", aligned.
  std::string Text() const;
  // Columns field and value.
  Table AsTable() const;

 private:
  std::vector<std::pair<std::string, std::string>> fields_;
};

}  // namespace ferrule::cli
