#include "core/depot/known.h"

#include <algorithm>
#include <string>

#include "absl/strings/str_cat.h"
#include "absl/strings/str_join.h"

namespace ferrule::depot {
namespace {

// More would hide the ones that matter; the settings have them all.
constexpr size_t kMostNamed = 20;

struct Kind {
  std::string_view one, many;
};
constexpr Kind kBranch = {"branch", "branches"};
constexpr Kind kDeviceClass = {"class of device", "classes"};

absl::Status Among(const Kind& kind, const std::vector<std::string>& ids, std::string_view id) {
  if (id.empty() || std::find(ids.begin(), ids.end(), id) != ids.end()) return absl::OkStatus();
  std::string next;
  if (ids.empty()) {
    next = "none yet; put settings in force first";
  } else {
    next = absl::StrJoin(ids.begin(), ids.begin() + std::min(ids.size(), kMostNamed), ", ");
    if (ids.size() > kMostNamed) absl::StrAppend(&next, " and more, see ferrule settings show");
  }
  return absl::NotFoundError(absl::StrCat("there is no ", std::string(kind.one), " ",
                                          std::string(id), "; the ", std::string(kind.many),
                                          " are: ", next));
}

template <typename Items>
std::vector<std::string> IdsOf(const Items& items) {
  std::vector<std::string> ids;
  for (const auto& item : items) ids.push_back(item.id());
  return ids;
}

}  // namespace

absl::Status BranchAmong(const std::vector<std::string>& ids, std::string_view branch) {
  return Among(kBranch, ids, branch);
}

absl::Status DeviceClassAmong(const std::vector<std::string>& ids, std::string_view device_class) {
  return Among(kDeviceClass, ids, device_class);
}

absl::Status KnowBranch(const Rules& rules, std::string_view branch) {
  if (branch.empty() || rules.FindBranch(branch) != nullptr) return absl::OkStatus();
  return BranchAmong(IdsOf(rules.settings().branches()), branch);
}

absl::Status KnowDeviceClass(const Rules& rules, std::string_view device_class) {
  if (device_class.empty() || rules.FindDeviceClass(device_class) != nullptr) {
    return absl::OkStatus();
  }
  return DeviceClassAmong(IdsOf(rules.settings().device_classes()), device_class);
}

absl::Status KnowBranchEver(const SettingsBook& book, std::string_view branch) {
  if (branch.empty() || book.empty()) return absl::OkStatus();
  std::vector<std::string> ids;
  book.ForEach([&ids](const Rules& rules) {
    for (std::string& id : IdsOf(rules.settings().branches())) {
      if (std::find(ids.begin(), ids.end(), id) == ids.end()) ids.push_back(std::move(id));
    }
  });
  return BranchAmong(ids, branch);
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
