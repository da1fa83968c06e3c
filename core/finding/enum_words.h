// The plain word of an enum value, for the values of findings: "incident" for HOLD_KIND_INCIDENT.
#pragma once

#include <string>
#include <string_view>

#include "ferrule/v1/common.pb.h"
#include "ferrule/v1/facts.pb.h"

namespace ferrule::finding {

// The value's name without the enum's prefix, in lower case, spaces for underscores.
inline std::string EnumWords(std::string_view name, std::string_view prefix) {
  std::string words(name.substr(name.substr(0, prefix.size()) == prefix ? prefix.size() : 0));
  for (char& c : words) {
    if (c == '_') c = ' ';
    if (c >= 'A' && c <= 'Z') c = static_cast<char>(c - 'A' + 'a');
  }
  return words;
}

inline std::string Words(v1::HoldKind kind) {
  return EnumWords(v1::HoldKind_Name(kind), "HOLD_KIND_");
}
inline std::string Words(v1::Purpose purpose) {
  return EnumWords(v1::Purpose_Name(purpose), "PURPOSE_");
}
// "not stated" when there is none.
inline std::string Words(v1::Side side) {
  return side == v1::SIDE_UNSPECIFIED ? "not stated" : EnumWords(v1::Side_Name(side), "SIDE_");
}

}  // namespace ferrule::finding
