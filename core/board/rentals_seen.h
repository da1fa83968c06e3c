// What the states of orders teach about returns, in the form that the law of returns learns from.
#pragma once

#include <cstdint>
#include <optional>
#include <vector>

#include "absl/time/time.h"
#include "core/depot/settings_book.h"
#include "core/fact/fact_view.h"
#include "core/promise/return_law.h"
#include "ferrule/v1/states.pb.h"

namespace ferrule::board {

// The ends of authorisation and cover that an order itself said from a day on; what is absent was
// not said.
struct SaidEnds {
  int64_t day = 0;
  std::optional<google::type::Date> authorisation_end;
  std::optional<google::type::Date> cover_end;
};

// Whether an order's due days can only be told with the ends that it said earlier: it was extended,
// and says an end of authorisation or cover, which may have been moved with the extension.
bool NeedsSaidEnds(const v1::OrderState& order);

// What an order said, out of its facts, in the order of the days.
std::vector<SaidEnds> SaidEndsOf(const std::vector<fact::FactView>& facts, absl::TimeZone zone);

// The rental of an order that was handed over: the day of the hand-over, the due days as they came
// to be known and the return. The due day is the policy's, as LatenessOf tells it of a rental that
// is out; papers, authorisations and agreed pick-ups count from the day on which they were noted,
// and of what the order itself says `said` tells the history; empty: it always said what it says
// now. None for an order without a hand-over or without any due day. Days are those of the order's
// branch.
std::optional<promise::RentalSeen> RentalOf(const v1::OrderState& order,
                                            const depot::SettingsBook& book,
                                            const std::vector<SaidEnds>& said = {});

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
