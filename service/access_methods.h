// AccessService and PatientService.
#pragma once

#include <vector>

#include "service/call.h"
#include "service/gate.h"

namespace ferrule::service {

// The gate and the ledger must outlive the methods.
std::vector<Method> AccessMethods(Gate* gate, ledger::Ledger* ledger);
std::vector<Method> PatientMethods(Gate* gate, ledger::Ledger* ledger);

}  // namespace ferrule::service
