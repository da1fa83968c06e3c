#include "core/order/records.h"

#include <string>

namespace ferrule::order {
namespace {

// The hold of a matter that still holds; null when there is none.
v1::RecordsHold* Standing(const std::string& matter, v1::OrderState* order) {
  for (v1::RecordsHold& hold : *order->mutable_records_holds()) {
    if (hold.matter() == matter && !hold.has_released()) return &hold;
  }
  return nullptr;
}

// A matter that is told of twice keeps its first day.
void Note(const fact::FactView& view, const v1::RecordsHeld& f, v1::OrderState* order) {
  if (Standing(f.matter(), order) != nullptr) return;
  v1::RecordsHold* hold = order->add_records_holds();
  hold->set_matter(f.matter());
  hold->set_because(f.because());
  finding::SetStamp(view, hold->mutable_held());
}

void Note(const fact::FactView& view, const v1::RecordsReleased& f, finding::Raiser* raiser,
          v1::OrderState* order) {
  v1::RecordsHold* hold = Standing(f.matter(), order);
  if (hold == nullptr) {
    return raiser->Raise(v1::REASON_RECORDS_NOT_HELD, {{"item", f.matter()}}, {});
  }
  finding::SetStamp(view, hold->mutable_released());
}

void Note(const fact::FactView& view, const v1::RecordsDisclosed& f, v1::OrderState* order) {
  v1::Disclosure* disclosure = order->add_disclosures();
  disclosure->set_recipient(f.recipient());
  disclosure->set_content(f.content());
  disclosure->set_purpose(f.purpose());
  finding::SetStamp(view, disclosure->mutable_disclosed());
}

}  // namespace

void NoteRecords(const fact::FactView& view, finding::Raiser* raiser, v1::OrderState* order) {
  const v1::Fact& fact = view.fact();
  if (fact.has_records_held()) return Note(view, fact.records_held(), order);
  if (fact.has_records_released()) return Note(view, fact.records_released(), raiser, order);
  if (fact.has_records_disclosed()) return Note(view, fact.records_disclosed(), order);
}

}  // namespace ferrule::order
