#include "core/stock/book.h"

#include <algorithm>

#include "core/time/civil.h"

namespace ferrule::stock {
namespace {

std::string Number(int64_t count) { return std::to_string(count); }

v1::StockAtPlace* FindAt(v1::StockBook* book, const std::string& place) {
  for (v1::StockAtPlace& at : *book->mutable_at()) {
    if (at.place() == place) return &at;
  }
  return nullptr;
}

}  // namespace

const v1::StockItem* FindItem(const depot::Rules& rules, std::string_view item) {
  for (const v1::StockItem& known : rules.settings().stock_items()) {
    if (known.id() == item) return &known;
  }
  return nullptr;
}

int64_t PiecesAt(const v1::StockBook& book, std::string_view place) {
  for (const v1::StockAtPlace& at : book.at()) {
    if (at.place() == place) return at.piece_count();
  }
  return 0;
}

int64_t PiecesOnShelves(const v1::StockBook& book) {
  int64_t pieces = 0;
  for (const v1::StockAtPlace& at : book.at()) pieces += at.piece_count();
  return pieces;
}

bool ExpiredAt(const v1::StockBook& book, const depot::Rules& rules, std::string_view place,
               int64_t at_us) {
  if (!time::IsValid(book.expiry_date())) return false;
  const v1::Branch* branch = rules.BranchOfPlace(place);
  const absl::TimeZone zone = rules.ZoneOf(branch == nullptr ? "" : branch->id());
  return time::LocalDay(at_us, zone) > time::ToDay(book.expiry_date());
}

bool BookFold::Apply() {
  const v1::Fact& fact = view_.fact();
  switch (fact.what_case()) {
    case v1::Fact::kStockReceived:
      On(fact.stock_received());
      return true;
    case v1::Fact::kStockMoved:
      On(fact.stock_moved());
      return true;
    case v1::Fact::kStockIssued:
      On(fact.stock_issued());
      return true;
    case v1::Fact::kStockReturned:
      On(fact.stock_returned());
      return true;
    case v1::Fact::kStockDiscarded:
      On(fact.stock_discarded());
      return true;
    case v1::Fact::kStockAdjusted:
      On(fact.stock_adjusted());
      return true;
    case v1::Fact::kTransferSent:
      On(fact.transfer_sent());
      return true;
    case v1::Fact::kTransferReceived:
      On(fact.transfer_received());
      return true;
    default:
      return false;
  }
}

// Places are kept in the order of their names, so that the state does not depend on the way there.
void BookFold::Put(const std::string& place, int64_t pieces) {
  auto* places = book_->mutable_at();
  v1::StockAtPlace* at = FindAt(book_, place);
  if (at == nullptr) {
    at = places->Add();
    at->set_place(place);
    time::SetMicros(view_.happened_us, at->mutable_since_time());
    at->set_piece_count(pieces);
    std::sort(places->begin(), places->end(),
              [](const auto& a, const auto& b) { return a.place() < b.place(); });
  } else {
    at->set_piece_count(at->piece_count() + pieces);
  }
  places->erase(std::remove_if(places->begin(), places->end(),
                               [](const auto& one) { return one.piece_count() == 0; }),
                places->end());
}

void BookFold::Take(const std::string& place, int64_t pieces) {
  if (!book_->followed()) return;
  const int64_t there = PiecesAt(*book_, place);
  if (there < pieces) {
    Raise(v1::REASON_STOCK_BELOW_ZERO, {{"place", place},
                                        {"found", Number(std::max<int64_t>(there, 0))},
                                        {"item", item_},
                                        {"lot", lot_},
                                        {"expected", Number(pieces)}});
  }
  Put(place, -pieces);
}

void BookFold::CheckPlace(const std::string& place) {
  if (rules_.FindPlace(place) == nullptr) Raise(v1::REASON_PLACE_UNKNOWN, {{"place", place}});
}

void BookFold::CheckItem(const std::string& item, const std::string& lot) {
  const v1::StockItem* known = FindItem(rules_, item);
  if (known == nullptr) return Raise(v1::REASON_STOCK_ITEM_UNKNOWN, {{"item", item}});
  const bool counted = known->tracking() == v1::STOCK_TRACKING_BY_COUNT;
  if (counted == lot.empty()) return;
  Raise(v1::REASON_STOCK_TRACKED_OTHERWISE,
        {{"item", item},
         {"expected", counted ? "only counted" : "kept by lot"},
         {"found", counted ? "a lot is given" : "no lot is given"}});
}

void BookFold::On(const v1::StockReceived& f) {
  CheckItem(f.item(), f.lot());
  CheckPlace(f.place());
  if (!book_->followed()) finding::SetStamp(view_, book_->mutable_received());
  book_->set_followed(true);
  if (f.has_expiry_date()) *book_->mutable_expiry_date() = f.expiry_date();
  book_->set_received_count(book_->received_count() + f.piece_count());
  Put(f.place(), f.piece_count());
}

void BookFold::On(const v1::StockMoved& f) {
  CheckPlace(f.to_place());
  Take(f.from_place(), f.piece_count());
  if (book_->followed()) Put(f.to_place(), f.piece_count());
}

// A lot of pieces for one patient each whose pieces are all gone: what is in the hand was used.
void BookFold::CheckOnePatient(const std::string& place, const std::string& order, int64_t pieces) {
  const v1::StockItem* item = FindItem(rules_, item_);
  if (item == nullptr || !item->single_patient() || !book_->followed()) return;
  const bool none_left = PiecesOnShelves(*book_) < pieces && PiecesAt(*book_, place) < pieces;
  if (!none_left || book_->last_order().empty() || book_->last_order() == order) return;
  Raise(v1::REASON_LOT_USED_BY_OTHER_PATIENT, {{"item", item_}, {"order", book_->last_order()}},
        {&book_->last_issued()});
}

void BookFold::GoToPatient(const std::string& place, const std::string& order, int64_t pieces) {
  if (ExpiredAt(*book_, rules_, place, view_.happened_us)) {
    Raise(v1::REASON_STOCK_EXPIRED, {{"due", time::FormatDay(time::ToDay(book_->expiry_date()))}});
  }
  CheckOnePatient(place, order, pieces);
  Take(place, pieces);
  book_->set_issued_count(book_->issued_count() + pieces);
  book_->set_last_order(order);
  finding::SetStamp(view_, book_->mutable_last_issued());
}

std::string BookFold::Fullest() const {
  const v1::StockAtPlace* fullest = nullptr;
  for (const v1::StockAtPlace& at : book_->at()) {
    if (fullest == nullptr || at.piece_count() > fullest->piece_count()) fullest = &at;
  }
  return fullest == nullptr ? std::string() : fullest->place();
}

void BookFold::UseInKit(const v1::KitItem& kit, const std::string& order) {
  const std::string place = kit.from_place().empty() ? Fullest() : kit.from_place();
  GoToPatient(place, order, kit.piece_count());
}

void BookFold::On(const v1::StockIssued& f) {
  if (!f.order().empty()) return GoToPatient(f.place(), f.order(), f.piece_count());
  Take(f.place(), f.piece_count());
  book_->set_own_use_count(book_->own_use_count() + f.piece_count());
}

void BookFold::On(const v1::StockReturned& f) {
  CheckPlace(f.place());
  const v1::StockItem* item = FindItem(rules_, f.item());
  if (item != nullptr && item->single_patient()) {
    Raise(v1::REASON_SINGLE_PATIENT_RETURNED, {{"item", f.item()}});
  }
  book_->set_returned_count(book_->returned_count() + f.piece_count());
  if (book_->followed()) Put(f.place(), f.piece_count());
}

void BookFold::On(const v1::StockDiscarded& f) {
  Take(f.place(), f.piece_count());
  book_->set_discarded_count(book_->discarded_count() + f.piece_count());
}

// The books follow the count: what was found is what there is, so nothing is judged here.
void BookFold::On(const v1::StockAdjusted& f) {
  if (f.change_count() > 0) {
    book_->set_gained_count(book_->gained_count() + f.change_count());
  } else {
    book_->set_lost_count(book_->lost_count() - f.change_count());
  }
  if (book_->followed()) Put(f.place(), f.change_count());
}

bool BookFold::IsMine(const v1::StockLine& line) const {
  return lot_.empty() ? line.lot().empty() && line.item() == item_ : line.lot() == lot_;
}

void BookFold::On(const v1::TransferSent& f) {
  CheckPlace(f.to_place());
  for (const v1::StockLine& line : f.lines()) {
    if (!IsMine(line)) continue;
    Take(f.from_place(), line.piece_count());
    if (!book_->followed()) continue;
    v1::StockOnTheWay* way = book_->add_on_the_way();
    way->set_transfer(f.transfer());
    way->set_piece_count(line.piece_count());
    time::SetMicros(view_.happened_us, way->mutable_since_time());
  }
}

void BookFold::On(const v1::TransferReceived& f) {
  CheckPlace(f.place());
  for (const v1::StockLine& line : f.lines()) {
    if (!IsMine(line) || !book_->followed()) continue;
    int64_t left = line.piece_count();
    auto* ways = book_->mutable_on_the_way();
    for (v1::StockOnTheWay& way : *ways) {
      if (way.transfer() != f.transfer()) continue;
      const int64_t arrived = std::min(left, way.piece_count());
      way.set_piece_count(way.piece_count() - arrived);
      left -= arrived;
    }
    ways->erase(std::remove_if(ways->begin(), ways->end(),
                               [](const auto& way) { return way.piece_count() == 0; }),
                ways->end());
    Put(f.place(), line.piece_count());
  }
}

}  // namespace ferrule::stock
