// Closets at hospitals: uses whose papers are late.
#include <algorithm>

#include "absl/strings/str_cat.h"
#include "core/stock/fold.h"

namespace ferrule::stock {
namespace {

void Report(const fact::FactView& view, const v1::ClosetUseReported& f, const depot::Rules& rules,
            finding::Raiser* raiser, v1::PlaceState* place) {
  const v1::Place* known = rules.FindPlace(f.place());
  if (known == nullptr) {
    raiser->Raise(v1::REASON_PLACE_UNKNOWN, {{"place", f.place()}});
  } else if (known->kind() != v1::PLACE_KIND_CLOSET) {
    raiser->Raise(v1::REASON_NOT_A_CLOSET, {{"place", f.place()}});
  }
  v1::ClosetUse* use = place->add_uses();
  use->set_device_class(f.device_class());
  use->set_item(f.item());
  use->set_piece_count(f.piece_count());
  use->set_chase(f.chase());
  finding::SetStamp(view, use->mutable_reported());
}

void Settle(const v1::ClosetUseSettled& f, finding::Raiser* raiser, v1::PlaceState* place) {
  auto* uses = place->mutable_uses();
  const auto it = std::find_if(uses->begin(), uses->end(), [&](const v1::ClosetUse& use) {
    return use.reported().fact().entry_id() == f.fact().entry_id() &&
           use.reported().fact().index() == f.fact().index();
  });
  if (it != uses->end()) {
    uses->erase(it);
    return;
  }
  raiser->Raise(
      v1::REASON_CLOSET_USE_UNKNOWN,
      {{"place", f.place()}, {"item", absl::StrCat(f.fact().entry_id(), "#", f.fact().index())}});
}

}  // namespace

void ApplyToPlace(const fact::FactView& view, const depot::SettingsBook& book,
                  finding::Raiser* raiser, v1::PlaceState* place) {
  const v1::Fact& fact = view.fact();
  if (fact.has_closet_use_reported()) {
    return Report(view, fact.closet_use_reported(), book.At(view.happened_us), raiser, place);
  }
  if (fact.has_closet_use_settled()) Settle(fact.closet_use_settled(), raiser, place);
}

}  // namespace ferrule::stock
