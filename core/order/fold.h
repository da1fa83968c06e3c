// An order's facts folded into its state: what it says, its hold, its rental.
#pragma once

#include "core/depot/settings_book.h"
#include "core/fact/fact_view.h"
#include "core/finding/raise.h"
#include "ferrule/v1/states.pb.h"

namespace ferrule::order {

// Applies one fact to the order `state->order()`, raising what it breaks.
void Apply(const fact::FactView& view, const depot::SettingsBook& book, finding::Raiser* raiser,
           v1::SubjectState* state);

}  // namespace ferrule::order
