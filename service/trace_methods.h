// The methods of ferrule.v1.TraceService.
#pragma once

#include <vector>

#include "core/ledger/ledger.h"
#include "service/call.h"

namespace ferrule::service {

// The ledger must outlive the server that serves them.
std::vector<Method> TraceMethods(ledger::Ledger* ledger);

}  // namespace ferrule::service
