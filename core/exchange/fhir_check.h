// Whether JSON is what FHIR R4 says about the ten resource types (fhir_table.h): elements, how
// often each stands, types, binding codes, targets of references, exactly one of a choice, and days
// that exist in the calendar.
#pragma once

#include <string_view>
#include <vector>

#include "ferrule/v1/intake.pb.h"
#include "nlohmann/json.hpp"

namespace ferrule::exchange {

using Json = nlohmann::json;

// The bytes as JSON; a discarded value when they are none, or deeper than `kMostJsonDepth`.
Json ParseJson(std::string_view bytes);
inline constexpr int kMostJsonDepth = 64;

// Whether the type is one of the ten.
bool IsKnownResource(std::string_view type);

// Every trouble of a resource of the ten types, at most 50. `where` is the path to it.
std::vector<v1::Trouble> CheckFhir(const Json& resource, std::string_view where);

// A FHIR date or dateTime: "2026", "2026-03", "2026-03-05" or with a time and an offset.
bool IsFhirDate(std::string_view text, bool time_allowed);

}  // namespace ferrule::exchange
