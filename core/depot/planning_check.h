// What the settings may say about looking ahead.
#pragma once

#include <vector>

#include "core/depot/settings_text.h"
#include "ferrule/v1/settings.pb.h"

namespace ferrule::depot {

// Adds every error of `settings.planning`: classes and branches that the settings do not have, days
// that are none, money and shares out of their ranges (proto/ferrule/v1/planning.proto says which).
void CheckPlanning(const v1::Settings& settings, std::vector<SettingsError>* errors);

}  // namespace ferrule::depot
