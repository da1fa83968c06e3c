// The depot's settings as they were when the server was last reached, kept beside an outbox: a
// report made without the server needs the branches' clocks.
#pragma once

#include <optional>
#include <string>

#include "ferrule/v1/depot_service.pb.h"

namespace ferrule::cli {

// Nothing when none were kept, or they cannot be read.
std::optional<v1::SettingsVersion> KeptSettings(const std::string& outbox);
// Keeps them, unless the same are there. Without them reports are kept all the same, so trouble is
// not told.
void KeepSettings(const std::string& outbox, const v1::SettingsVersion& settings);

}  // namespace ferrule::cli
