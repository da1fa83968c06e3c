// The methods of ferrule.v1.LabelService.
#pragma once

#include <vector>

#include "core/ledger/ledger.h"
#include "service/call.h"

namespace ferrule::service {

// The ledger must outlive the methods.
std::vector<Method> LabelMethods(ledger::Ledger* ledger);

}  // namespace ferrule::service
