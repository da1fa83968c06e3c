// Ids of entries.
#pragma once

#include <string>

namespace ferrule::cli {

// A UUID of this moment and of chance (core/fact/timed_id.h): an entry id that no other sender
// makes.
std::string NewEntryId();

}  // namespace ferrule::cli
