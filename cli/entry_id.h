// Ids of entries.
#pragma once

#include <string>

namespace ferrule::cli {

// A random UUID: an entry id that no other sender makes.
std::string NewEntryId();

}  // namespace ferrule::cli
