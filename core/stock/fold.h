// Parts, goods, transfers, closets, stocktakes, recalls and complaints: each fact's effect on the
// state.
#pragma once

#include "core/depot/settings_book.h"
#include "core/fact/fact_view.h"
#include "core/finding/raise.h"
#include "ferrule/v1/states.pb.h"

namespace ferrule::stock {

// Applies one fact to the part `state->part()`: where a part is.
void ApplyToPart(const fact::FactView& view, finding::Raiser* raiser, v1::SubjectState* state);
// Applies one fact to the lot `state->lot()`: who got pieces of it, and where the others stand.
void ApplyToLot(const fact::FactView& view, const depot::SettingsBook& book,
                finding::Raiser* raiser, v1::SubjectState* state);
// Applies one fact to the item `state->item()`, whose pieces are only counted.
void ApplyToItem(const fact::FactView& view, const depot::SettingsBook& book,
                 finding::Raiser* raiser, v1::SubjectState* state);

// A transfer and its two ends.
void ApplyToTransfer(const fact::FactView& view, finding::Raiser* raiser,
                     v1::TransferState* transfer);
// A place: uses of a closet whose papers are late.
void ApplyToPlace(const fact::FactView& view, const depot::SettingsBook& book,
                  finding::Raiser* raiser, v1::PlaceState* place);
// A stocktake.
void ApplyToCount(const fact::FactView& view, const depot::SettingsBook& book,
                  finding::Raiser* raiser, v1::CountState* count);
// A recall.
void ApplyToRecall(const fact::FactView& view, finding::Raiser* raiser, v1::RecallState* recall);
// A complaint.
void ApplyToComplaint(const fact::FactView& view, const depot::SettingsBook& book,
                      finding::Raiser* raiser, v1::ComplaintState* complaint);
// The last word of each recall on an item, kept with any kind of subject.
void KeepRecallWord(const fact::FactView& view, v1::SubjectState* state);

}  // namespace ferrule::stock
