#include "core/depot/known.h"

#include <algorithm>
#include <string>

#include "absl/strings/str_cat.h"

namespace ferrule::depot {

absl::Status KnowBranch(const Rules& rules, std::string_view branch) {
  if (branch.empty() || rules.FindBranch(branch) != nullptr) return absl::OkStatus();
  return absl::NotFoundError(absl::StrCat("there is no branch ", std::string(branch),
                                          "; ferrule settings show lists the branches"));
}

absl::Status KnowPlace(const Rules& rules, std::string_view place) {
  if (place.empty() || rules.FindPlace(place) != nullptr) return absl::OkStatus();
  return absl::NotFoundError(absl::StrCat("the settings in force have no place \"",
                                          std::string(place),
                                          "\"; ferrule settings show lists them"));
}

bool NamesItem(const Rules& rules, std::string_view item) {
  const v1::Settings& settings = rules.settings();
  const auto is_it = [item](const auto& one) { return one == item; };
  return std::any_of(settings.stock_items().begin(), settings.stock_items().end(),
                     [item](const v1::StockItem& one) { return one.id() == item; }) ||
         std::any_of(settings.device_classes().begin(), settings.device_classes().end(),
                     [&](const v1::DeviceClass& one) {
                       return std::any_of(one.kit_items().begin(), one.kit_items().end(), is_it);
                     });
}

}  // namespace ferrule::depot
