// Whether what somebody asks about is in the settings, in the words of every answer.
#pragma once

#include <string>
#include <string_view>
#include <vector>

#include "absl/status/status.h"
#include "core/depot/settings_book.h"

namespace ferrule::depot {

// Ok for an empty id: nothing in particular was asked for. NotFound otherwise, with the ids that
// there are or, for places, with where to look.
absl::Status KnowBranch(const Rules& rules, std::string_view branch);
absl::Status KnowDeviceClass(const Rules& rules, std::string_view device_class);
absl::Status KnowPlace(const Rules& rules, std::string_view place);

// The same for a branch that any version of the settings has, past or to come. OK in an empty book.
absl::Status KnowBranchEver(const SettingsBook& book, std::string_view branch);

// The words of the first two for ids that are at hand: NotFound when it is not among them.
absl::Status BranchAmong(const std::vector<std::string>& ids, std::string_view branch);
absl::Status DeviceClassAmong(const std::vector<std::string>& ids, std::string_view device_class);

// Whether the settings name the item: among those of the stores, or in the kit of a device class.
bool NamesItem(const Rules& rules, std::string_view item);

}  // namespace ferrule::depot
