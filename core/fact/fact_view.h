// A fact together with its entry and its two times: what the folds see.
#pragma once

#include <cstdint>

#include "ferrule/v1/facts.pb.h"

namespace ferrule::fact {

// Non-owning; valid as long as the entry is.
struct FactView {
  const v1::Entry* entry = nullptr;
  int index = 0;            // which fact of the entry
  int64_t happened_us = 0;  // true time
  int64_t recorded_us = 0;  // known time
  int64_t sequence = 0;     // position of the entry in the ledger, 0 while being decided

  const v1::Fact& fact() const { return entry->facts(index); }
};

// The order in which a subject's facts are folded: true time, the reporter's own order number,
// entry id, index. It never depends on arrival.
bool Before(const FactView& a, const FactView& b);

}  // namespace ferrule::fact
