// The elements of FHIR R4 resources and data types as data.
#pragma once

#include <span>
#include <string_view>

namespace ferrule::exchange {

struct FhirElement {
  static constexpr int kMany = 1'000'000;
  std::string_view path;   // "DeviceRequest.parameter.code", "DeviceRequest.code[x]"
  int min;                 // how often it stands at least, where its parent stands
  int max;                 // 0, 1 or kMany
  std::string_view types;  // "CodeableConcept|Reference(Device)"
  std::string_view codes;  // the only ones allowed; empty for no such rule
};

// Grouped by type, in the order of HL7's definitions.
std::span<const FhirElement> FhirElements();

}  // namespace ferrule::exchange
