// Whether an entry is well formed, whatever the depot's state: required fields, lengths, ranges,
// ids, real dates. Broken rules of the trade are the folds' business, not this one's.
#pragma once

#include <string>
#include <vector>

#include "ferrule/v1/facts.pb.h"

namespace ferrule::fact {

struct Violation {
  std::string field;        // path, "entry.facts[0].handed_over.unit"
  std::string description;  // what is wrong and what would be right
};

// Every violation, in the order of the fields; empty when the entry is well formed.
std::vector<Violation> Validate(const v1::Entry& entry);

}  // namespace ferrule::fact
