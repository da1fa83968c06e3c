// Methods of ferrule.v1.PapersService.
#pragma once

#include <vector>

#include "core/ledger/ledger.h"
#include "service/call.h"

namespace ferrule::service {

// The ledger must outlive the methods.
std::vector<Method> PapersMethods(ledger::Ledger* ledger);

}  // namespace ferrule::service
