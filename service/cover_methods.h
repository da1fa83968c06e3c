// The methods of ferrule.v1.CoverService: completeness, ends, days, claims and corrections.
#pragma once

#include <vector>

#include "core/ledger/ledger.h"
#include "service/call.h"

namespace ferrule::service {

// The ledger must outlive the methods.
std::vector<Method> CoverMethods(ledger::Ledger* ledger);

}  // namespace ferrule::service
