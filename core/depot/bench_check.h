// What the bench's part of the settings must keep.
#pragma once

#include <vector>

#include "core/depot/settings_text.h"
#include "ferrule/v1/settings.pb.h"

namespace ferrule::depot {

// Appends what is wrong with electrical profiles, treatments, causes of repair, the bench policy
// and what models, products and checklists say of them.
void CheckBench(const v1::Settings& settings, std::vector<SettingsError>* errors);

}  // namespace ferrule::depot
