#include "core/stock/fold.h"

#include <string>

namespace ferrule::stock {
namespace {

void PutInto(const fact::FactView& view, const std::string& unit, const std::string& position,
             finding::Raiser* raiser, v1::PartState* part) {
  if (!part->unit().empty() && part->unit() != unit) {
    raiser->Raise(v1::REASON_PART_IN_OTHER_UNIT,
                  {{"part", part->part()}, {"unit", part->unit()}, {"position", part->position()}},
                  {&part->since()});
  }
  part->set_unit(unit);
  part->set_position(position);
  finding::SetStamp(view, part->mutable_since());
}

// Seen in a unit. Where it already is in the records, it stays as it was.
template <typename Received>
void FindIn(const fact::FactView& view, const Received& received, finding::Raiser* raiser,
            v1::PartState* part) {
  for (const v1::PartInPosition& p : received.parts()) {
    if (p.part() != part->part()) continue;
    if (part->unit() == received.unit() && part->position() == p.position()) continue;
    PutInto(view, received.unit(), p.position(), raiser, part);
  }
}

// Whatever unit the records had it in, it is in none now.
void TakeOut(const fact::FactView& view, const v1::PartRemoved& f, finding::Raiser* raiser,
             v1::PartState* part) {
  if (part->unit() != f.unit()) {
    raiser->Raise(v1::REASON_PART_NOT_IN_UNIT,
                  {{"part", f.part()},
                   {"unit", f.unit()},
                   {"position", f.position()},
                   {"found", part->unit().empty() ? std::string("no unit") : part->unit()}},
                  {&part->since()});
  }
  part->clear_unit();
  part->clear_position();
  finding::SetStamp(view, part->mutable_since());
}

template <typename Fact>
void Use(const fact::FactView& view, const Fact& f, const std::string& order,
         finding::Raiser* raiser, v1::LotState* lot) {
  for (const v1::KitItem& item : f.kit()) {
    if (item.lot() != lot->lot()) continue;
    if (lot->item().empty()) {
      lot->set_item(item.item());
    } else if (lot->item() != item.item()) {
      raiser->Raise(v1::REASON_LOT_ITEM_MISMATCH,
                    {{"expected", lot->item()}, {"found", item.item()}, {"order", order}});
    }
    lot->set_used_count(lot->used_count() + item.piece_count());
    v1::LotUse* use = lot->add_uses();
    use->set_order(order);
    use->set_piece_count(item.piece_count());
    finding::SetStamp(view, use->mutable_used());
  }
}

}  // namespace

void ApplyToPart(const fact::FactView& view, finding::Raiser* raiser, v1::SubjectState* state) {
  v1::PartState* part = state->mutable_part();
  const v1::Fact& fact = view.fact();
  switch (fact.what_case()) {
    case v1::Fact::kUnitReceived:
      return FindIn(view, fact.unit_received(), raiser, part);
    case v1::Fact::kReceivedBack:
      return FindIn(view, fact.received_back(), raiser, part);
    case v1::Fact::kPartFitted:
      return PutInto(view, fact.part_fitted().unit(), fact.part_fitted().position(), raiser, part);
    case v1::Fact::kPartRemoved:
      return TakeOut(view, fact.part_removed(), raiser, part);
    default:
      return;  // not about a part
  }
}

void ApplyToLot(const fact::FactView& view, finding::Raiser* raiser, v1::SubjectState* state) {
  const v1::Fact& fact = view.fact();
  v1::LotState* lot = state->mutable_lot();
  if (fact.has_handed_over()) {
    Use(view, fact.handed_over(), fact.handed_over().order(), raiser, lot);
  }
  if (fact.has_exchanged()) Use(view, fact.exchanged(), fact.exchanged().order(), raiser, lot);
  if (fact.has_carried_over()) {
    Use(view, fact.carried_over(), fact.carried_over().to_order(), raiser, lot);
  }
}

}  // namespace ferrule::stock
