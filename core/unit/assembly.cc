#include <algorithm>

#include "core/finding/enum_words.h"
#include "core/unit/unit_fold.h"

namespace ferrule::unit {

void UnitFold::On(const v1::MeterRead& f) {
  if (Take(Event::kMeterRead)) meter().Read(f.reading_s());
}

void UnitFold::On(const v1::MeterReplaced& f) {
  if (!Take(Event::kMeterReplaced)) return;
  const std::optional<int64_t> last =
      f.has_old_last_s() ? std::optional<int64_t>(f.old_last_s()) : std::nullopt;
  meter().Replace(last, f.new_first_s());
}

void UnitFold::On(const v1::MeterRolledOver& f) {
  if (Take(Event::kMeterRolledOver)) meter().RollOver(f.reading_s(), f.width_s());
}

void UnitFold::CheckPosition(const std::string& position) {
  const v1::Model* m = model();
  if (m != nullptr &&
      std::none_of(m->parts().begin(), m->parts().end(),
                   [&](const v1::PartPosition& p) { return p.position() == position; })) {
    Raise(v1::REASON_POSITION_UNKNOWN, {{"position", position}, {"model", unit_->model()}});
  }
  const auto& missing = unit_->missing();
  if (std::find(missing.begin(), missing.end(), position) != missing.end()) return;
  for (const v1::PartIn& in : unit_->parts()) {
    if (in.position() != position) continue;
    Raise(v1::REASON_POSITION_TAKEN, {{"position", position}, {"part", in.part()}}, {&in.since()});
  }
}

// Puts a part into a position, whatever the records have there.
void UnitFold::Fit(const std::string& part, const std::string& position) {
  auto* parts = unit_->mutable_parts();
  const auto stale = [&](const v1::PartIn& in) {
    return in.part() == part || in.position() == position;
  };
  parts->erase(std::remove_if(parts->begin(), parts->end(), stale), parts->end());
  v1::PartIn* in = parts->Add();
  in->set_part(part);
  in->set_position(position);
  Stamp(in->mutable_since());
  auto* out = unit_->mutable_parts_out();
  out->erase(std::remove_if(out->begin(), out->end(),
                            [&](const v1::PartOut& gone) { return gone.position() == position; }),
             out->end());
  auto* missing = unit_->mutable_missing();
  missing->erase(std::remove(missing->begin(), missing->end(), position), missing->end());
  // By position, so that the state does not depend on the order in which parts were fitted.
  std::stable_sort(parts->begin(), parts->end(), [](const v1::PartIn& a, const v1::PartIn& b) {
    return a.position() < b.position();
  });
}

void UnitFold::On(const v1::PartFitted& f) {
  if (!unit_->has_received()) {
    Take(Event::kPartFitted);
    return;
  }
  const bool same = std::any_of(
      unit_->parts().begin(), unit_->parts().end(),
      [&](const v1::PartIn& in) { return in.part() == f.part() && in.position() == f.position(); });
  if (!same) CheckPosition(f.position());
  Void(v1::REASON_PART_CHANGED_AFTER_INSPECTION);
  Take(Event::kPartFitted);
  Fit(f.part(), f.position());
}

void UnitFold::On(const v1::PartRemoved& f) {
  if (!unit_->has_received()) {
    Take(Event::kPartRemoved);
    return;
  }
  auto* parts = unit_->mutable_parts();
  const auto it = std::find_if(parts->begin(), parts->end(),
                               [&](const v1::PartIn& in) { return in.part() == f.part(); });
  if (it == parts->end() || it->position() != f.position()) {
    Raise(v1::REASON_PART_NOT_IN_UNIT,
          {{"part", f.part()},
           {"unit", unit_->unit()},
           {"position", f.position()},
           {"found", it == parts->end() ? std::string("no unit") : "position " + it->position()}});
  }
  Void(v1::REASON_PART_CHANGED_AFTER_INSPECTION);
  Take(Event::kPartRemoved);
  if (it == parts->end()) return;
  Lack(it->part(), it->position());
  parts->erase(it);
}

// A donor is incomplete from the minute of the removal.
void UnitFold::Lack(const std::string& part, const std::string& position) {
  auto* out = unit_->mutable_parts_out();
  out->erase(std::remove_if(out->begin(), out->end(),
                            [&](const v1::PartOut& gone) { return gone.position() == position; }),
             out->end());
  v1::PartOut* gone = out->Add();
  gone->set_part(part);
  gone->set_position(position);
  Stamp(gone->mutable_removed());
  std::sort(out->begin(), out->end(),
            [](const v1::PartOut& a, const v1::PartOut& b) { return a.position() < b.position(); });
}

void UnitFold::On(const v1::SideConfigured& f) {
  if (!Take(Event::kSideConfigured)) return;
  const v1::Model* m = model();
  if (m != nullptr && !m->sided()) {
    Raise(v1::REASON_MODEL_HAS_NO_SIDES,
          {{"model", unit_->model()}, {"side", finding::Words(f.side())}});
  }
  unit_->set_side(f.side());
}

}  // namespace ferrule::unit
