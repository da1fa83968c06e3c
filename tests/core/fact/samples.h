// One complete, well-formed fact of every kind, with the subjects that it is about; synthetic.
#pragma once

#include <string>
#include <vector>

#include "ferrule/v1/facts.pb.h"

namespace ferrule::testing {

struct Sample {
  std::string kind;      // the field of v1::Fact
  std::string subjects;  // full names, separated by blanks
  std::string kind_words;
  std::string words;  // how the fact reads
  v1::Fact fact;
};

// In the order of v1::Fact.
const std::vector<Sample>& Samples();

// The fact alone in a well-formed entry.
v1::Entry EntryWith(const v1::Fact& fact);

}  // namespace ferrule::testing
