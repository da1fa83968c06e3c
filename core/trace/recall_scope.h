// What a recall covers, and how far it has come: values in, values out.
#pragma once

#include <cstdint>
#include <string_view>
#include <vector>

#include "ferrule/v1/recall.pb.h"
#include "ferrule/v1/trace_service.pb.h"

namespace ferrule::trace {

// Whether a serial number lies in a range, both ends included. Runs of digits compare as numbers
// and everything else must be the same in all three, so that "A-9" lies between "A-1" and "A-120"
// and "B-9" does not. (Common practice, no source: makers count up within one pattern.)
bool InSerialRange(std::string_view serial, std::string_view first, std::string_view last);

// Whether an item is dealt with: corrected, sent back, destroyed or proven not to be covered.
bool IsDone(v1::RecallOutcome outcome);

// Figures over all items of a recall that was opened at `opened_us`. Every item counts, whether its
// holder is known or not. Half of the items are done when the greater half is: of 5 it is 3.
v1::RecallTotals TotalsOf(const std::vector<v1::RecallItem>& items, int64_t opened_us);

}  // namespace ferrule::trace
