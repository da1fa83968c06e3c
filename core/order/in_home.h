// What an order remembers of the home: set-ups and teaching, the delivery ticket, calls,
// precautions, breakdowns, what was left there.
#pragma once

#include "core/fact/fact_view.h"
#include "core/finding/raise.h"
#include "ferrule/v1/states.pb.h"

namespace ferrule::order {

// Takes up a set-up, a returned ticket, a call, precautions or a breakdown; other facts change
// nothing. Raises NO_BREAKDOWN_OPEN when something works again that was not reported.
void NoteInHome(const fact::FactView& view, finding::Raiser* raiser, v1::OrderState* order);

// Another unit in the home settles what was reported of the one before.
void SettleByExchange(const fact::FactView& view, v1::OrderState* order);

// What a hand-over leaves in the home.
void NoteLeft(const v1::HandedOver& handed_over, v1::OrderState* order);

}  // namespace ferrule::order
