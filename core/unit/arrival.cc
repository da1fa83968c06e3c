// A unit at the dock: what is seen of it against what went out and what was picked up.
#include <algorithm>
#include <string>

#include "core/unit/unit_fold.h"

namespace ferrule::unit {
namespace {

using Positions = google::protobuf::RepeatedPtrField<std::string>;

bool Has(const Positions& list, const std::string& position) {
  return std::find(list.begin(), list.end(), position) != list.end();
}

void Drop(const std::string& position, Positions* list) {
  list->erase(std::remove(list->begin(), list->end(), position), list->end());
}

}  // namespace

void UnitFold::MarkMissing(const std::string& position) {
  if (!Has(unit_->missing(), position)) unit_->add_missing(position);
}

void UnitFold::CompareSerial(const v1::ReceivedBack& f) {
  if (f.serial().empty() || unit_->serial().empty() || f.serial() == unit_->serial()) return;
  Raise(v1::REASON_OTHER_SERIAL_SEEN, {{"expected", unit_->serial()}, {"found", f.serial()}},
        {&unit_->received()});
}

// A part that was seen in the unit is in it, whatever the records say.
void UnitFold::CompareParts(const v1::ReceivedBack& f) {
  const v1::Model* m = model();
  for (const v1::PartInPosition& seen : f.parts()) {
    if (m != nullptr &&
        std::none_of(m->parts().begin(), m->parts().end(),
                     [&](const v1::PartPosition& p) { return p.position() == seen.position(); })) {
      Raise(v1::REASON_POSITION_UNKNOWN,
            {{"position", seen.position()}, {"model", unit_->model()}});
    }
    const auto& parts = unit_->parts();
    const auto recorded = std::find_if(parts.begin(), parts.end(), [&](const v1::PartIn& in) {
      return in.position() == seen.position();
    });
    if (recorded != parts.end() && recorded->part() == seen.part()) continue;
    if (recorded != parts.end()) {
      Raise(v1::REASON_OTHER_PART_SEEN,
            {{"position", seen.position()}, {"expected", recorded->part()}, {"found", seen.part()}},
            {&recorded->since()});
    }
    Fit(seen.part(), seen.position());
  }
}

void UnitFold::CompareAccessories(const v1::ReceivedBack& f) {
  if (!f.accessories_counted()) return;
  const v1::KitCount& kit = unit_->kit();
  // Where nobody counted at the door, what went out is what was expected.
  const bool counted = !kit.picked_up().empty() || !kit.missing_at_pickup().empty();
  const Positions& expected = counted ? kit.picked_up() : kit.handed_over();
  const v1::Stamp* since = counted ? &kit.pickup() : &kit.set_out();
  for (const std::string& position : expected) {
    if (Has(f.accessories(), position)) continue;
    Raise(v1::REASON_ACCESSORY_NOT_BACK,
          {{"position", position},
           {"kind", counted ? "counted at the pick-up" : "handed over"},
           {"order", kit.order()}},
          {since});
    MarkMissing(position);
  }
  for (const std::string& position : f.accessories()) Drop(position, unit_->mutable_missing());
}

void UnitFold::CountAtDock(const v1::ReceivedBack& f) {
  CompareSerial(f);
  CompareParts(f);
  CompareAccessories(f);
  v1::KitCount* kit = unit_->mutable_kit();
  Stamp(kit->mutable_receipt());
  kit->set_counted_at_receipt(f.accessories_counted());
  *kit->mutable_received() = f.accessories();
}

}  // namespace ferrule::unit
