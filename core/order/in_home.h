// What an order remembers of the home: set-ups and teaching, the delivery ticket, calls, what was
// left there.
#pragma once

#include "core/fact/fact_view.h"
#include "ferrule/v1/states.pb.h"

namespace ferrule::order {

// Takes up a set-up, a returned ticket or a call; other facts change nothing.
void NoteInHome(const fact::FactView& view, v1::OrderState* order);

// What a hand-over leaves in the home.
void NoteLeft(const v1::HandedOver& handed_over, v1::OrderState* order);

}  // namespace ferrule::order
