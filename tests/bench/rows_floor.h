// Entries a second when nothing is done but writing their rows, `group` entries a transaction.
#pragma once

#include <string>

#include "tests/bench/measure.h"
#include "tests/bench/rows.h"

namespace ferrule::bench {

// On a copy of that depot file, which ReceiveUnits filled.
double SqliteRowsPerSecond(const Options& options, const std::string& depot_file, Said said,
                           int group);

// In fresh tables of the options' database, filled with that depot file's states; each group goes
// in one round trip.
double PostgresRowsPerSecond(const Options& options, const std::string& depot_file, Said said,
                             int group);

}  // namespace ferrule::bench
