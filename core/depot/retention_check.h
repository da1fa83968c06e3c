// How long the settings keep records, checked.
#pragma once

#include <vector>

#include "core/depot/settings_text.h"
#include "ferrule/v1/settings.pb.h"

namespace ferrule::depot {

// Appends what is wrong, in the order of the fields. A rule whose day a kind of record never has is
// wrong: it would keep nothing, or everything for ever.
void CheckRetention(const v1::Settings& settings, std::vector<SettingsError>* errors);

}  // namespace ferrule::depot
