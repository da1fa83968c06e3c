// Whether what somebody asks about is in the settings, in the words of every answer.
#pragma once

#include <string_view>

#include "absl/status/status.h"
#include "core/depot/settings_book.h"

namespace ferrule::depot {

// Ok for an empty id: nothing in particular was asked for. NotFound, with where to look, otherwise.
absl::Status KnowBranch(const Rules& rules, std::string_view branch);
absl::Status KnowPlace(const Rules& rules, std::string_view place);

// Whether the settings name the item: among those of the stores, or in the kit of a device class.
bool NamesItem(const Rules& rules, std::string_view item);

}  // namespace ferrule::depot
