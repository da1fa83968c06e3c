// An order's status in the words of a standard, with no more than the referrer needs: its own
// number of the order, how far it has come, the days, and the unit. No names, no addresses, and
// nothing that another sender said.
#pragma once

#include <cstdint>
#include <string>

#include "absl/time/time.h"
#include "ferrule/v1/settings.pb.h"
#include "ferrule/v1/states.pb.h"

namespace ferrule::exchange {

struct StatusInput {
  const v1::OrderState* order = nullptr;
  const v1::OrderSource* source = nullptr;  // what the referrer sent
  const v1::Sender* referrer = nullptr;
  const v1::UnitState* unit = nullptr;  // held or on rent; may be null
  absl::TimeZone zone;                  // of the branch
  int64_t now_us = 0;
};

// ORR^O02 with ORC-1 SC (or UA when it was cancelled before it went out) and the status of table
// 0038; HL7 v2.5.1.
std::string StatusAsHl7(const StatusInput& input);

// A collection Bundle: DeviceRequest and Task, and when a unit is there Device (with its UDI
// carrier), SupplyDelivery and DeviceUseStatement. Codes of the binding code systems alone.
std::string StatusAsFhir(const StatusInput& input);

}  // namespace ferrule::exchange
