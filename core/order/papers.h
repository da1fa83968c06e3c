// The prescription as its papers add up: the original, extensions and stops as half-open intervals
// of civil days, with the holes between them and the days that are prescribed twice.
#pragma once

#include <optional>
#include <string_view>
#include <vector>

#include "absl/time/civil_time.h"
#include "ferrule/v1/states.pb.h"

namespace ferrule::order {

// Days in a row, the end not included.
struct Days {
  absl::CivilDay from;
  absl::CivilDay end;

  bool Has(absl::CivilDay day) const { return from <= day && day < end; }
  friend bool operator==(const Days& a, const Days& b) {
    return a.from == b.from && a.end == b.end;
  }
};

struct Prescribed {
  std::string_view paper;  // "original", "extension"
  Days days;
  std::optional<absl::CivilDay> signed_on;
  bool cut_by_stop = false;
};

// Every paper's days in the order of the papers, as the stops left them. The original begins on the
// day of the hand-over, which is the first day of its length of need (common practice, no source);
// an extension without a first day follows on the last day prescribed so far; a stop takes away
// what the papers before it prescribe later.
std::vector<Prescribed> PrescribedDays(const v1::OrderState& order);

// The days that the spans cover, joined; what lies between the joined ones; what several cover.
std::vector<Days> Union(const std::vector<Prescribed>& spans);
std::vector<Days> Holes(const std::vector<Prescribed>& spans);
std::vector<Days> Overlaps(const std::vector<Prescribed>& spans);

// The last day of the last stop; none when there is none or a later extension goes beyond it.
std::optional<absl::CivilDay> StoppedThrough(const v1::OrderState& order);

}  // namespace ferrule::order
