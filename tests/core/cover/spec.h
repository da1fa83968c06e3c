// A rental and its payer's terms out of one line of text, for tables of cases and for the oracle.
//
//   zone=America/New_York      the branch's zone
//   leg=K-1/FROM/TO            a unit in the home; TO empty while it is out
//   lon=21                     length of need
//   surgery=DAY surgery_at=T   the operation
//   planned=DAY                planned day of discharge
//   stay=home:T                home, hospital, facility or died
//   use=started:T              started or stopped
//   extension=FROM:THROUGH     FROM may be empty
//   stop=THROUGH
//   auth=FROM:THROUGH:UNITS
//   cancelled=1
//   holiday=DAY
//   payer=none                 no payer at all; other=DAY: another payer with one reading from DAY
//   reading=ANCHOR:NUMBER:LENGTH[:FROM:MEASURE:MOST]   surgery, discharge, use or hand-over; days,
//                              hours or working; more readings in their order
//   away=not-paid|stop|paid home_only=1 admission=1 last_day=1 needs_auth=1 amount=2500
//   monthly=1 interruption=60 month_rule=last|next most_months=13 not_covered=1
//
// T is RFC 3339 or a local time with T between day and hour.
#pragma once

#include <string>

#include "core/cover/day_ledger.h"
#include "core/depot/settings_book.h"
#include "ferrule/v1/states.pb.h"

namespace ferrule::testing {

struct Rental {
  v1::OrderState order;
  v1::Settings settings;
  absl::TimeZone zone;
};

// Throws std::invalid_argument for a line that it does not understand.
Rental RentalOf(const std::string& line);

// All readings up to and with `through`, a day or an instant like T above.
v1::GetDayLedgerResponse CountRental(const Rental& rental, const std::string& through);

}  // namespace ferrule::testing
