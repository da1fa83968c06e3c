// The plain words of enums for the values of findings: "incident" for HOLD_KIND_INCIDENT.
#pragma once

#include <string>

#include "core/fact/words.h"

namespace ferrule::finding {

inline std::string Words(v1::HoldKind kind) { return std::string(fact::HoldKindWords(kind)); }
inline std::string Words(v1::Purpose purpose) { return std::string(fact::PurposeWords(purpose)); }
inline std::string Words(v1::DetailKind kind) { return std::string(fact::DetailKindWords(kind)); }
inline std::string Words(v1::AliasKind kind) { return std::string(fact::AliasKindWords(kind)); }
inline std::string Words(v1::CleaningStep step) {
  return std::string(fact::CleaningStepWords(step));
}
inline std::string Words(v1::Side side) { return std::string(fact::SideWords(side)); }

}  // namespace ferrule::finding
