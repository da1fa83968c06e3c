// Grants and competences hold from a day to a day, both included.
#pragma once

#include "absl/time/civil_time.h"
#include "core/time/civil.h"

namespace ferrule::access {

// Whether what has these days holds on the day; what has a malformed one does not.
template <class Dated>
bool HoldsOn(const Dated& dated, absl::CivilDay day) {
  if (dated.has_from_date() &&
      (!time::IsValid(dated.from_date()) || day < time::ToDay(dated.from_date()))) {
    return false;
  }
  return !dated.has_to_date() ||
         (time::IsValid(dated.to_date()) && day <= time::ToDay(dated.to_date()));
}

}  // namespace ferrule::access
