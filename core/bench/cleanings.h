// Cleanings with the wet time kept beside the label's of that day.
#pragma once

#include <vector>

#include "core/bench/replay.h"
#include "ferrule/v1/bench_service.pb.h"

namespace ferrule::bench {

// The row of a cleaning that ended; false for any other fact.
bool CleaningRowOf(const Moment& moment, const depot::SettingsBook& book, v1::CleaningRow* row);

}  // namespace ferrule::bench
