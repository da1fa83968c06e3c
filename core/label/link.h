// GS1 Digital Link: an element string as a web address, uncompressed.
#pragma once

#include <string_view>
#include <vector>

#include "absl/status/statusor.h"
#include "core/label/gs1.h"

namespace ferrule::label {

// Whether a text is a web address.
bool IsWebAddress(std::string_view text);

// "https://id.example.org/01/09506000134352/21/12345?17=261231": the elements in their order. Where
// the address leads is not looked at. InvalidArgument when it is another web address or an element
// is wrong. (GS1 Digital Link standard, URI syntax; from memory, held against another program by
// the tests.)
absl::StatusOr<std::vector<Element>> ParseLink(std::string_view address, int year);

}  // namespace ferrule::label
