// Element strings written, the counterpart of core/label/gs1.h.
#pragma once

#include <string>
#include <utility>
#include <vector>

#include "absl/status/statusor.h"

namespace ferrule::label {

// Identifiers with their values, in the order in which they are to stand.
using Values = std::vector<std::pair<std::string, std::string>>;

// As a scanner would send them: a separator behind each value that does not end by its length,
// unless it is the last. InvalidArgument for a value that its identifier does not allow.
absl::StatusOr<std::string> ComposeElements(const Values& values);

// As people read them; a bracket in a value is written "\(". The same errors.
absl::StatusOr<std::string> ComposeBracketed(const Values& values);

}  // namespace ferrule::label
