// The ends of a rental and the one that rules.
#pragma once

#include <optional>
#include <vector>

#include "core/depot/settings_book.h"
#include "ferrule/v1/depot_service.pb.h"
#include "ferrule/v1/states.pb.h"

namespace ferrule::order {

// The ends that are known, in the order of v1::DueBasis. The prescription ends on the hand-over day
// plus the length of need less one (the day of hand-over is the first day; common practice, no
// source), or on the last extension's day if later.
std::vector<v1::RentalEnd> Ends(const v1::OrderState& order);

// The end that the due policy in force on the day of the hand-over makes the due date; none before
// the hand-over or when no end is known.
std::optional<v1::RentalEnd> Due(const v1::OrderState& order, const depot::SettingsBook& book);

// What an order lacks before a unit may go out for it, in words, with who must supply it.
std::vector<std::string> MissingToGoOut(const v1::OrderState& order, const depot::Rules& rules);

}  // namespace ferrule::order
