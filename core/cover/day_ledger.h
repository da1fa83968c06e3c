// The day ledger of a rental: every civil day with a unit in the home has one state and one reason.
//
// Which reason stands where several hold is fixed: first what was with the patient (died, before
// the operation, not discharged, away, not yet or no longer used), then what the terms ask for (an
// order in force, terms that pay for it, a day to count from, a start in time, a prescription,
// cover, an authorisation, units left).
#pragma once

#include <cstddef>

#include "core/cover/rental_time.h"
#include "core/depot/settings_book.h"
#include "ferrule/v1/cover_service.pb.h"
#include "ferrule/v1/states.pb.h"

namespace ferrule::cover {

// How many readings of the terms there are for the order, at least 1.
size_t CountReadings(const v1::OrderState& order, const depot::Rules& rules);

// The ledger by one reading, from 0; a payer whose rule has fewer readings is counted by its last
// one. Terms and zone are those of `rules`; days local to the order's branch.
v1::DayLedger CountDays(const v1::OrderState& order, const depot::Rules& rules, size_t reading,
                        const Until& until);

// All readings beside each other, with the days on which they differ.
v1::GetDayLedgerResponse CountByEveryReading(const v1::OrderState& order, const depot::Rules& rules,
                                             const Until& until);

// Whether a unit is still in the home.
bool IsOut(const v1::OrderState& order);

}  // namespace ferrule::cover
