// Staged second sides: of those whose first side is done some come back for the other one after
// weeks or months, and the rest never do (a mixture of cured and not; hazards by week since the
// first side, Boag 1949 in discrete time).
#pragma once

#include <cstdint>
#include <vector>

#include "core/plan/booking.h"

namespace ferrule::plan {

struct FirstSide {
  int64_t done = 0;            // day of the first side
  int64_t second = INT64_MAX;  // day of the second side; INT64_MAX when there is none yet
  bool second_booked = false;  // a date is booked already
};

class SecondSideLaw {
 public:
  // Learns from all first sides done by `now`; those without a second side count as not yet, for
  // two years. The share is drawn towards what is usual, and thin weeks towards the usual course
  // at that share: a quarter come back within two years,
  // half of these within one, none within four weeks (design default; published: 29.4 % of 231,119
  // knee patients had both sides done, abjs.mums.ac.ir article 23751, both at once included).
  SecondSideLaw(const std::vector<FirstSide>& sides, int64_t now);

  // P(the second side within `weeks` of the first), 0 for none.
  double Within(int weeks) const;
  // Expected second sides of all that have had none, on each of `days` coming days: the first is
  // now + 1. Booked ones are among them, as they are among those at risk; whoever counts these
  // apart takes the share that is booked so early.
  std::vector<double> Expected(const std::vector<FirstSide>& sides, int64_t now, int days) const;
  // Expected second sides on each coming day of first sides that are still to be done: `first` of
  // them are expected on each.
  std::vector<double> OfComing(const std::vector<double>& first) const;

 private:
  // P(a second side on the day | none so far), so many days after the first.
  double Daily(int64_t days) const;

  std::vector<double> hazard_;    // by week
  std::vector<double> survival_;  // P(none by the end of the week)
};

// Which bookings are second sides: of a patient who had the other side of the same class done, or
// booked, four weeks to two years before. One flag a booking; and the first sides of each class.
struct SidesOf {
  std::vector<char> is_second;
  std::vector<std::vector<FirstSide>> first;  // by class
};
SidesOf TellSides(const std::vector<Booking>& known, int64_t now, int classes);

}  // namespace ferrule::plan
