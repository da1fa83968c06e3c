#include "core/order/in_home.h"

#include <algorithm>
#include <vector>

#include "core/finding/raise.h"

namespace ferrule::order {
namespace {

void Note(const fact::FactView& view, const v1::SetUpDone& f, v1::OrderState* order) {
  v1::SetUp* set_up = order->add_set_ups();
  *set_up->mutable_set_up() = f;
  finding::SetStamp(view, set_up->mutable_done());
}

void Note(const fact::FactView& view, const v1::TicketReturned& f, v1::OrderState* order) {
  *order->mutable_ticket()->mutable_ticket() = f;
  finding::SetStamp(view, order->mutable_ticket()->mutable_returned());
}

void Note(const fact::FactView& view, const v1::CallMade& f, v1::OrderState* order) {
  auto* calls = order->mutable_calls();
  auto call = std::find_if(calls->begin(), calls->end(),
                           [&](const v1::Call& c) { return c.kind() == f.kind(); });
  v1::Call* made = call == calls->end() ? calls->Add() : &*call;
  made->set_kind(f.kind());
  made->set_outcome(f.outcome());
  made->clear_again_date();
  if (f.has_again_date()) *made->mutable_again_date() = f.again_date();
  finding::SetStamp(view, made->mutable_made());
}

// All that is asked from now on, in the order of the words. Who says the same again, in whatever
// order, changes nothing.
void Note(const fact::FactView& view, const v1::PrecautionsNoted& f, v1::OrderState* order) {
  std::vector<int> asked(f.precautions().begin(), f.precautions().end());
  std::sort(asked.begin(), asked.end());
  auto& before = *order->mutable_precautions();
  if (std::equal(asked.begin(), asked.end(), before.begin(), before.end())) return;
  before.Assign(asked.begin(), asked.end());
  finding::SetStamp(view, order->mutable_precautions_noted());
}

// Null when nothing is open: one rental has one breakdown at a time.
v1::Breakdown* OpenBreakdown(v1::OrderState* order) {
  if (order->breakdowns().empty()) return nullptr;
  v1::Breakdown* last = &*order->mutable_breakdowns()->rbegin();
  return last->has_settled() ? nullptr : last;
}

// Whoever rings again about the same waits since the first call.
void Note(const fact::FactView& view, const v1::BreakdownReported& f, v1::OrderState* order) {
  if (OpenBreakdown(order) != nullptr) return;
  v1::Breakdown* breakdown = order->add_breakdowns();
  breakdown->set_unit(f.unit());
  breakdown->set_words(f.words());
  finding::SetStamp(view, breakdown->mutable_reported());
}

void Note(const fact::FactView& view, const v1::BreakdownSettled& f, finding::Raiser* raiser,
          v1::OrderState* order) {
  v1::Breakdown* breakdown = OpenBreakdown(order);
  if (breakdown != nullptr) {
    breakdown->set_cure(f.cure());
    return finding::SetStamp(view, breakdown->mutable_settled());
  }
  const bool any = !order->breakdowns().empty();
  raiser->Raise(v1::REASON_NO_BREAKDOWN_OPEN, {},
                {any ? &order->breakdowns().rbegin()->settled() : nullptr});
}

}  // namespace

void NoteInHome(const fact::FactView& view, finding::Raiser* raiser, v1::OrderState* order) {
  const v1::Fact& fact = view.fact();
  if (fact.has_set_up_done()) return Note(view, fact.set_up_done(), order);
  if (fact.has_ticket_returned()) return Note(view, fact.ticket_returned(), order);
  if (fact.has_call_made()) return Note(view, fact.call_made(), order);
  if (fact.has_precautions_noted()) return Note(view, fact.precautions_noted(), order);
  if (fact.has_breakdown_reported()) return Note(view, fact.breakdown_reported(), order);
  if (fact.has_breakdown_settled()) Note(view, fact.breakdown_settled(), raiser, order);
}

void SettleByExchange(const fact::FactView& view, v1::OrderState* order) {
  v1::Breakdown* breakdown = OpenBreakdown(order);
  if (breakdown != nullptr) finding::SetStamp(view, breakdown->mutable_settled());
}

void NoteLeft(const v1::HandedOver& handed_over, v1::OrderState* order) {
  *order->mutable_papers_left() = handed_over.papers();
  *order->mutable_accessories() = handed_over.accessories();
  order->clear_kit_left();
  for (const v1::KitItem& item : handed_over.kit()) order->add_kit_left(item.item());
}

}  // namespace ferrule::order
