// Random histories for property tests: what a few units, orders, parts and lots may go through,
// possible and impossible, with ties in time, reversals and answers. Everything is observed, so
// that nothing depends on what was refused when.
#pragma once

#include <cstdint>
#include <string>
#include <vector>

#include "ferrule/v1/facts.pb.h"

namespace ferrule::testing {

// The same seed gives the same history. Every id begins with `prefix`, so that many histories fit
// into one depot; the order of ids does not depend on it. Places, models and lists are those of
// SmallSettings().
std::vector<v1::Entry> RandomHistory(uint64_t seed, const std::string& prefix);

// Full names of the subjects that a history with that prefix may touch.
std::vector<std::string> SubjectsOfHistory(const std::string& prefix);

}  // namespace ferrule::testing
