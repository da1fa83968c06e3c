// Parts and lots: where a part is, and who got pieces of a lot.
#pragma once

#include "core/depot/settings_book.h"
#include "core/fact/fact_view.h"
#include "core/finding/raise.h"
#include "ferrule/v1/states.pb.h"

namespace ferrule::stock {

// Applies one fact to the part `state->part()`.
void ApplyToPart(const fact::FactView& view, finding::Raiser* raiser, v1::SubjectState* state);
// Applies one fact to the lot `state->lot()`.
void ApplyToLot(const fact::FactView& view, finding::Raiser* raiser, v1::SubjectState* state);

}  // namespace ferrule::stock
