// The sub-benches. Each puts its figures into the report; floors come first, so that a figure finds
// its own in the report.
#pragma once

#include "tests/bench/measure.h"

namespace ferrule::bench {

// The same call to a server that does nothing: 1, 8 and 64 in flight.
void EchoFloor(const Options& options, Report* report);
// The server of that floor, run as a process of its own until it is told to end.
int EchoServe(int port);

// The rows of entries written to SQLite without any of our code, in groups of 1, 8 and 64.
void SqliteFloor(const Options& options, Report* report);

}  // namespace ferrule::bench
