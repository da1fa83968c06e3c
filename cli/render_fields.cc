#include "cli/render_fields.h"

#include <algorithm>

namespace ferrule::cli {

void Fields::Add(std::string name, std::string value) {
  if (!value.empty()) fields_.emplace_back(std::move(name), std::move(value));
}

std::string Fields::Text() const {
  size_t width = 0;
  for (const auto& [name, value] : fields_) width = std::max(width, name.size());
  std::string text;
  for (const auto& [name, value] : fields_) {
    text += "  " + name + std::string(width - name.size() + 2, ' ') + Printable(value) + "\n";
  }
  return text;
}

Table Fields::AsTable() const {
  Table table({{"field"}, {"value"}});
  for (const auto& [name, value] : fields_) table.Add({name, value});
  return table;
}

}  // namespace ferrule::cli
