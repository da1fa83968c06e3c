#include "core/board/turns_seen.h"

#include <optional>

#include "core/fact/subject.h"
#include "core/time/civil.h"

namespace ferrule::board {
namespace {

bool IsOrder(const CustodySpan& span) { return span.holder.starts_with("orders/"); }

// The place that had it; null when it was none that the settings know.
const v1::Place* PlaceOf(const CustodySpan& span, const depot::Rules& rules) {
  const auto subject = fact::ParseSubjectName(span.holder);
  if (!subject.ok() || subject->kind != fact::SubjectKind::kPlace) return nullptr;
  return rules.FindPlace(subject->id);
}

bool IsVan(v1::PlaceKind kind) {
  return kind == v1::PLACE_KIND_VAN_DIRTY || kind == v1::PLACE_KIND_VAN_CLEAN;
}

// What became of the unit that left a patient with span `i`.
promise::TurnSeen Follow(const std::vector<CustodySpan>& spans, size_t i,
                         const depot::Rules& rules) {
  promise::TurnSeen turn;
  std::optional<absl::TimeZone> zone;
  const auto day = [&](int64_t us) {
    return time::DayNumber(time::LocalDay(us, zone.value_or(absl::UTCTimeZone())));
  };
  for (size_t j = i + 1; j < spans.size(); ++j) {
    const CustodySpan& span = spans[j];
    const v1::Place* place = PlaceOf(span, rules);
    if (!zone) {
      if (place != nullptr) zone = rules.ZoneOf(rules.BranchOfPlace(place->id())->id());
      turn.left = day(spans[i].to_us);
    }
    if (place == nullptr) {
      // On the way between branches it is still the depot's; anything else ends the turnaround.
      if (span.holder.starts_with("transfers/") || span.holder.starts_with("places/")) continue;
      turn.gone = day(span.from_us);
      return turn;
    }
    if (!IsVan(place->kind()) && !turn.received) turn.received = day(span.from_us);
    if (depot::IsCleanPlace(place->kind())) {
      turn.ready = day(span.from_us);
      return turn;
    }
  }
  if (!zone) turn.left = day(spans[i].to_us);
  return turn;
}

}  // namespace

std::vector<promise::TurnSeen> TurnsOf(const std::vector<CustodySpan>& spans,
                                       const depot::Rules& rules) {
  std::vector<promise::TurnSeen> turns;
  for (size_t i = 0; i < spans.size(); ++i) {
    if (!IsOrder(spans[i]) || spans[i].to_us == INT64_MAX) continue;
    // From one patient straight to the next: no turnaround.
    if (i + 1 < spans.size() && IsOrder(spans[i + 1])) continue;
    turns.push_back(Follow(spans, i, rules));
  }
  return turns;
}

}  // namespace ferrule::board
