// The stock ledger of one lot, or of one item that is only counted: pieces by place. A book is
// followed from the first receipt on; before it, uses are remembered and nothing is judged.
#pragma once

#include <cstdint>
#include <string>
#include <string_view>

#include "core/depot/settings_book.h"
#include "core/fact/fact_view.h"
#include "core/finding/raise.h"
#include "ferrule/v1/facts.pb.h"
#include "ferrule/v1/stock.pb.h"

namespace ferrule::stock {

// The item of the stores in a version of the settings, or null.
const v1::StockItem* FindItem(const depot::Rules& rules, std::string_view item);

// Pieces at a place; 0 when there are none.
int64_t PiecesAt(const v1::StockBook& book, std::string_view place);
// Pieces at all places, those on the way not counted.
int64_t PiecesOnShelves(const v1::StockBook& book);
// Whether the goods are past their last day at an instant, by the civil day of the place's branch.
bool ExpiredAt(const v1::StockBook& book, const depot::Rules& rules, std::string_view place,
               int64_t at_us);

// Applies the stores' facts to one book. `lot` and `item` say whose book it is: a lot's, or with an
// empty lot an item's.
class BookFold {
 public:
  BookFold(const fact::FactView& view, const depot::SettingsBook& settings, finding::Raiser* raiser,
           const std::string& lot, const std::string& item, v1::StockBook* book)
      : view_(view),
        rules_(settings.At(view.happened_us)),
        raiser_(raiser),
        lot_(lot),
        item_(item),
        book_(book) {}

  // True when the fact is one of the stores'.
  bool Apply();
  // Pieces that go with a unit, out of `place` or, when that is empty, of the fullest place.
  void UseInKit(const v1::KitItem& kit, const std::string& order);

 private:
  void On(const v1::StockReceived& f);
  void On(const v1::StockMoved& f);
  void On(const v1::StockIssued& f);
  void On(const v1::StockReturned& f);
  void On(const v1::StockDiscarded& f);
  void On(const v1::StockAdjusted& f);
  void On(const v1::TransferSent& f);
  void On(const v1::TransferReceived& f);

  void Put(const std::string& place, int64_t pieces);
  void Take(const std::string& place, int64_t pieces);
  void GoToPatient(const std::string& place, const std::string& order, int64_t pieces);
  void CheckItem(const std::string& item, const std::string& lot);
  void CheckPlace(const std::string& place);
  void CheckOnePatient(const std::string& place, const std::string& order, int64_t pieces);
  std::string Fullest() const;
  bool IsMine(const v1::StockLine& line) const;
  void Raise(v1::Reason reason, finding::Values values = {}, finding::Evidence evidence = {}) {
    raiser_->Raise(reason, values, evidence);
  }

  const fact::FactView& view_;
  const depot::Rules& rules_;
  finding::Raiser* raiser_;
  const std::string& lot_;
  const std::string& item_;
  v1::StockBook* book_;
};

}  // namespace ferrule::stock
