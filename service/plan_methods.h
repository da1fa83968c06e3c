// The methods of ferrule.v1.PlanService: times checked, the records read, then core asked.
#pragma once

#include <vector>

#include "core/ledger/ledger.h"
#include "service/call.h"

namespace ferrule::service {

// The ledger must outlive the server that serves them.
std::vector<Method> PlanMethods(ledger::Ledger* ledger);

}  // namespace ferrule::service
