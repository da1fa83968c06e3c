// The payers' part of the settings checked: terms, procedures, holidays.
#pragma once

#include <vector>

#include "core/depot/settings_text.h"
#include "ferrule/v1/settings.pb.h"

namespace ferrule::depot {

// Appends what is wrong, in the order of the fields.
void CheckCover(const v1::Settings& settings, std::vector<SettingsError>* errors);

}  // namespace ferrule::depot
