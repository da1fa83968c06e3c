// Work on many values on all cores of the machine.
#pragma once

#include <cstddef>

#include "absl/functional/function_ref.h"

namespace ferrule::ledger {

// As many threads as the machine has cores, and at most eight.
int ThreadCount();

// Runs `work` on ranges [begin, end) that together make [0, count), from several threads; returns
// when all is done.
void InParallel(size_t count, absl::FunctionRef<void(size_t begin, size_t end)> work);

}  // namespace ferrule::ledger
