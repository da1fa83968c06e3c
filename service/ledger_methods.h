// The methods of ferrule.v1.LedgerService.
#pragma once

#include <vector>

#include "core/ledger/ledger.h"
#include "service/call.h"
#include "service/limits.h"

namespace ferrule::service {

// The ledger must outlive the server that serves them.
std::vector<Method> LedgerMethods(ledger::Ledger* ledger,
                                  absl::Duration progress = kProgressInterval);

}  // namespace ferrule::service
