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

// Every violation; empty when the entry is well formed. What single fields break comes first, in
// the order of the fields, then what two fields of a fact contradict. The content of settings is
// not looked at: depot::ValidateSettings does that. core/fact/field_rules.h has the limits.
std::vector<Violation> Validate(const v1::Entry& entry);

}  // namespace ferrule::fact
