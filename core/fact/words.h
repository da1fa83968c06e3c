// A fact in the words of the counter, one line, for histories and tickets.
#pragma once

#include <string>

#include "absl/time/time.h"
#include "ferrule/v1/facts.pb.h"

namespace ferrule::fact {

// For instance "inspected with knee-check version 3: passed readings 6"; never patient particulars.
std::string Describe(const v1::Fact& fact);
// The kind alone, "handed over", "inspection done".
std::string KindWords(const v1::Fact& fact);

}  // namespace ferrule::fact
