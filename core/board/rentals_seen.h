// What the states of orders and units teach about returns, in the form that the law of returns
// learns from.
#pragma once

#include <optional>

#include "core/depot/settings_book.h"
#include "core/promise/return_law.h"
#include "ferrule/v1/states.pb.h"

namespace ferrule::board {

// The rental of an order that was handed over: the day of the hand-over, the due days as they came
// to be known (the prescription, its last extension, an agreed pick-up) and the return. None for an
// order without a hand-over or without any due day. Days are those of the order's branch.
std::optional<promise::RentalSeen> RentalOf(const v1::OrderState& order,
                                            const depot::SettingsBook& book);

// The last turnaround of a unit: from its last return to the inspection that it passed after it.
// None for a unit that never came back from a patient.
std::optional<promise::TurnSeen> TurnOf(const v1::UnitState& unit, const depot::Rules& rules);

// How late a rental is at the end of a day, and by which kind of due day.
struct Lateness {
  int64_t late = 0;
  bool agreed = false;
  std::optional<int64_t> due;  // none when the records know no due day
};
// Without a due day on the records the end of the prescription is looked at, else it counts as due
// today.
Lateness LatenessOf(const v1::OrderState& order, const depot::SettingsBook& book, int64_t today);

}  // namespace ferrule::board
