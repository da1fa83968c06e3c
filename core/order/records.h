// What keeps an order's records, and to whom they were given.
#pragma once

#include "core/fact/fact_view.h"
#include "core/finding/raise.h"
#include "ferrule/v1/states.pb.h"

namespace ferrule::order {

// Takes up a hold on the records, its end, or a disclosure; other facts change nothing. Raises
// RECORDS_NOT_HELD for the end of what does not hold.
void NoteRecords(const fact::FactView& view, finding::Raiser* raiser, v1::OrderState* order);

}  // namespace ferrule::order
