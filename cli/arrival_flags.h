// What is seen of a unit at the dock, as flags: shared by receiving and comparing.
#pragma once

#include <vector>

#include "cli/command.h"
#include "cli/values.h"
#include "ferrule/v1/facts.pb.h"

namespace ferrule::cli {

std::vector<Flag> ArrivalFlags();

// Unit, place and flags into the fact; errors are kept in `values`.
void ReadArrival(const Line& line, Values& values, v1::ReceivedBack* fact);

}  // namespace ferrule::cli
