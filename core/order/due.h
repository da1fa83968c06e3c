// The ends of a rental and the one that rules.
#pragma once

#include <optional>
#include <string>
#include <vector>

#include "absl/time/civil_time.h"
#include "core/depot/settings_book.h"
#include "ferrule/v1/depot_service.pb.h"
#include "ferrule/v1/states.pb.h"

namespace ferrule::order {

// The last day of the prescription as its papers add up (papers.h): the hand-over day plus the
// length of need less one, or the last extension's day if later, or the day of a stop. Days are
// local to the order's branch.
std::optional<absl::CivilDay> PrescriptionEnd(const v1::OrderState& order);

// The ends that are known, in the order of v1::DueBasis: the end of the authorisation is the last
// day of the latest one, the end of cover the day that the order itself says.
std::vector<v1::RentalEnd> Ends(const v1::OrderState& order);
// The same, with the end of cover by the payer terms where the order says none.
std::vector<v1::RentalEnd> Ends(const v1::OrderState& order, const depot::Rules& rules);

// The end that the due policy in force on the day of the hand-over makes the due date; none before
// the hand-over or when no end that the policy names is known. A policy that names none is one that
// takes the earliest end of all, so that no rental is without an end for want of a setting.
std::optional<v1::RentalEnd> Due(const v1::OrderState& order, const depot::SettingsBook& book);

// The last day of use of a unit that goes out for the order on `day`: the agreed day of pick-up or
// the end of the prescription while the rental runs; before it, the length of need from `day` or,
// if later, from the day needed, or an extension's day. None when no length of need is known.
std::optional<absl::CivilDay> LastDayOfUse(const v1::OrderState& order, absl::CivilDay day);

// What an order lacks before a unit may go out for it, in words, with who must supply it: patient,
// prescriber, branch and class known to the settings, side where the class has sides, procedure,
// day of the operation or day needed, length of need, and limits of motion where the class is one
// of powered motion. Nothing is filled in: a setting that no order gives is asked for.
std::vector<std::string> MissingToGoOut(const v1::OrderState& order, const depot::Rules& rules);

}  // namespace ferrule::order
