// What is missing from a unit, and where it was lost sight of.
#pragma once

#include <vector>

#include "ferrule/v1/bench_service.pb.h"
#include "ferrule/v1/settings.pb.h"
#include "ferrule/v1/states.pb.h"

namespace ferrule::bench {

// By position. `model` is null when the settings do not know it.
std::vector<v1::MissingAccessory> MissingOf(const v1::UnitState& unit, const v1::Model* model);

}  // namespace ferrule::bench
