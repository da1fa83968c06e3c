// What settings may say about promises, fit, motion and use.
#pragma once

#include <vector>

#include "core/depot/settings_text.h"
#include "ferrule/v1/settings.pb.h"

namespace ferrule::depot {

// Appends what is wrong with the promise policy, the ways between branches, the bands of measures
// and motion, and the ranges that models fit.
void CheckPromises(const v1::Settings& settings, std::vector<SettingsError>* errors);

}  // namespace ferrule::depot
