// A unit's facts folded into its state: custody, fitness, commitment, assembly, meter.
#pragma once

#include "core/depot/settings_book.h"
#include "core/fact/fact_view.h"
#include "core/finding/raise.h"
#include "ferrule/v1/states.pb.h"

namespace ferrule::unit {

// Applies one fact to the unit `state->unit()`, raising what it breaks. Facts come in
// fact::Before order; reversed ones are left out by the caller.
void Apply(const fact::FactView& view, const depot::SettingsBook& book, finding::Raiser* raiser,
           v1::SubjectState* state);

}  // namespace ferrule::unit
