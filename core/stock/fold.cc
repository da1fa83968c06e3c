#include "core/stock/fold.h"

#include <string>

#include "core/stock/book.h"

namespace ferrule::stock {
namespace {

// A part with its lot, if one is given, where a fact says that it was built in.
template <typename Fitted>
void PutInto(const fact::FactView& view, const std::string& unit, const Fitted& fitted,
             finding::Raiser* raiser, v1::PartState* part) {
  const std::string& position = fitted.position();
  if (!fitted.lot().empty()) part->set_lot(fitted.lot());
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
    PutInto(view, received.unit(), p, raiser, part);
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

// What a lot is a lot of, by the first word on it.
void CheckItem(const std::string& item, const std::string& order, finding::Raiser* raiser,
               v1::LotState* lot) {
  if (lot->item().empty()) {
    lot->set_item(item);
  } else if (lot->item() != item) {
    raiser->Raise(v1::REASON_LOT_ITEM_MISMATCH,
                  {{"expected", lot->item()}, {"found", item}, {"order", order}});
  }
}

void KeepUse(const fact::FactView& view, const std::string& order, int32_t pieces,
             v1::LotState* lot) {
  lot->set_used_count(lot->used_count() + pieces);
  v1::LotUse* use = lot->add_uses();
  use->set_order(order);
  use->set_piece_count(pieces);
  finding::SetStamp(view, use->mutable_used());
}

template <typename Fact>
void Use(const fact::FactView& view, const Fact& f, const std::string& order,
         const depot::SettingsBook& book, finding::Raiser* raiser, v1::LotState* lot) {
  for (const v1::KitItem& item : f.kit()) {
    if (item.lot() != lot->lot()) continue;
    CheckItem(item.item(), order, raiser, lot);
    BookFold(view, book, raiser, lot->lot(), lot->item(), lot->mutable_book())
        .UseInKit(item, order);
    KeepUse(view, order, item.piece_count(), lot);
  }
}

// The item that a fact of the stores gives the lot; empty when it is another kind of fact.
std::string ItemGiven(const v1::Fact& fact, const std::string& lot) {
  switch (fact.what_case()) {
    case v1::Fact::kStockReceived:
      return fact.stock_received().item();
    case v1::Fact::kStockMoved:
      return fact.stock_moved().item();
    case v1::Fact::kStockIssued:
      return fact.stock_issued().item();
    case v1::Fact::kStockReturned:
      return fact.stock_returned().item();
    case v1::Fact::kStockDiscarded:
      return fact.stock_discarded().item();
    case v1::Fact::kStockAdjusted:
      return fact.stock_adjusted().item();
    case v1::Fact::kTransferSent:
    case v1::Fact::kTransferReceived: {
      const auto& lines = fact.has_transfer_sent() ? fact.transfer_sent().lines()
                                                   : fact.transfer_received().lines();
      for (const v1::StockLine& line : lines) {
        if (line.lot() == lot) return line.item();
      }
      return "";
    }
    default:
      return "";
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
      return PutInto(view, fact.part_fitted().unit(), fact.part_fitted(), raiser, part);
    case v1::Fact::kPartRemoved:
      return TakeOut(view, fact.part_removed(), raiser, part);
    default:
      return;  // not about a part
  }
}

void ApplyToLot(const fact::FactView& view, const depot::SettingsBook& book,
                finding::Raiser* raiser, v1::SubjectState* state) {
  const v1::Fact& fact = view.fact();
  v1::LotState* lot = state->mutable_lot();
  if (fact.has_handed_over()) {
    return Use(view, fact.handed_over(), fact.handed_over().order(), book, raiser, lot);
  }
  if (fact.has_exchanged()) {
    return Use(view, fact.exchanged(), fact.exchanged().order(), book, raiser, lot);
  }
  if (fact.has_carried_over()) {
    return Use(view, fact.carried_over(), fact.carried_over().to_order(), book, raiser, lot);
  }
  const std::string item = ItemGiven(fact, lot->lot());
  if (item.empty()) return;
  const std::string order = fact.stock_issued().order();
  CheckItem(item, order, raiser, lot);
  BookFold(view, book, raiser, lot->lot(), lot->item(), lot->mutable_book()).Apply();
  if (!order.empty()) KeepUse(view, order, fact.stock_issued().piece_count(), lot);
}

void ApplyToItem(const fact::FactView& view, const depot::SettingsBook& book,
                 finding::Raiser* raiser, v1::SubjectState* state) {
  v1::ItemState* item = state->mutable_item();
  BookFold(view, book, raiser, std::string(), item->item(), item->mutable_book()).Apply();
}

}  // namespace ferrule::stock
