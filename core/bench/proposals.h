// What may explain something unexpected at the dock. Each is a guess with its evidence: whoever can
// see the unit decides.
#pragma once

#include <cstdint>
#include <optional>
#include <string>
#include <vector>

#include "core/depot/settings_book.h"
#include "ferrule/v1/bench_service.pb.h"

namespace ferrule::bench {

// What else is known around one question about one unit.
struct Surroundings {
  const v1::UnitState* unit = nullptr;       // as it is now
  int64_t at_us = 0;                         // when it was seen
  std::string place;                         // where it was seen
  const v1::OrderState* order = nullptr;     // the one the records had it with; null for none
  std::optional<absl::CivilDay> order_due;   // of that order
  std::vector<v1::UnitState> with_serial;    // units that bear the serial number that was read
  const v1::PartState* part = nullptr;       // of the strange part, before it was seen here
  std::vector<v1::Finding> other_questions;  // open ones of the same kind about other units
  std::vector<v1::UnitState> like_it;        // units of its class that the records have nearby
};

// Explanations of one finding, the likeliest first; empty when nothing is known that could explain
// it.
std::vector<v1::Proposal> Explain(const v1::Finding& finding, const Surroundings& around,
                                  const depot::Rules& rules);

// The value of a finding under a key; empty when it has none.
std::string ValueOf(const v1::Finding& finding, std::string_view key);

}  // namespace ferrule::bench
