// The methods of ferrule.v1.BenchService: names and times checked, then core asked.
#pragma once

#include <vector>

#include "core/ledger/ledger.h"
#include "service/call.h"

namespace ferrule::service {

// The ledger must outlive the server that serves them.
std::vector<Method> BenchMethods(ledger::Ledger* ledger);

}  // namespace ferrule::service
