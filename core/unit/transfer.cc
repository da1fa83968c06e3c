// A unit on the way between branches, its seal and its purpose.
#include <algorithm>

#include "core/unit/unit_fold.h"

namespace ferrule::unit {

void UnitFold::On(const v1::TransferSent& f) {
  if (unit_->custody() == v1::CUSTODY_PLACE && f.from_place() != unit_->place()) {
    Raise(v1::REASON_NOT_AT_THAT_PLACE, {{"from", f.from_place()}, {"found", unit_->place()}},
          {&unit_->custody_since()});
  }
  if (!Take(Event::kTransferSent)) return;
  unit_->set_place(f.from_place());
  unit_->set_transfer(f.transfer());
  Stamp(unit_->mutable_transfer_sent());
  Stamp(unit_->mutable_custody_since());
}

void UnitFold::On(const v1::TransferReceived& f) {
  if (unit_->has_received() && unit_->transfer() != f.transfer()) {
    Raise(v1::REASON_NOT_SENT_WITH_TRANSFER, {{"item", f.transfer()}}, {&unit_->custody_since()});
  }
  if (!Take(Event::kTransferReceived)) return;
  unit_->clear_transfer();
  unit_->clear_transfer_sent();
  if (f.seal_broken()) Take(Event::kSealBroken);
  PutAt(f.place());
}

// Any other fact that puts a unit somewhere while the papers have it on the way.
void UnitFold::ArriveOtherwise() {
  if (unit_->transfer().empty()) return;
  Raise(v1::REASON_IN_TRANSIT, {{"item", unit_->transfer()}}, {&unit_->transfer_sent()});
  unit_->clear_transfer();
  unit_->clear_transfer_sent();
}

void UnitFold::On(const v1::SealBroken&) { Take(Event::kSealBroken); }

void UnitFold::On(const v1::PurposeChanged& f) {
  if (!Take(Event::kPurposeChanged)) return;
  unit_->set_purpose(f.purpose());
  Stamp(unit_->mutable_purpose_since());
  if (!f.owner().empty()) unit_->set_owner(f.owner());
  unit_->clear_return_date();
  if (f.has_return_date()) *unit_->mutable_return_date() = f.return_date();
  for (const std::string& paper : f.papers()) {
    const auto& known = unit_->papers();
    if (std::find(known.begin(), known.end(), paper) == known.end()) unit_->add_papers(paper);
  }
}

}  // namespace ferrule::unit
