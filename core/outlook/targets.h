// Money and targets of a class, out of the settings, with the usual ones where they say nothing.
#pragma once

#include <string>
#include <string_view>

#include "core/depot/settings_book.h"
#include "core/plan/fleet.h"

namespace ferrule::outlook {

struct Targets {
  double lost_share = .02;         // of orders that may be lost
  double short_probability = .05;  // of being short on a day
  plan::UnitMoney money;           // hundredths of the currency a day; 0 when not known
  double price_minor = 0;          // of one unit
  bool has_rent = false, has_cost = false, has_shortage = false;
  std::string missing;  // which figures the settings do not give, in words
};

// `mean_cost_minor`: what a unit of the fleet cost, used where the settings give no price.
Targets TargetsOf(const depot::Rules& rules, std::string_view device_class, double mean_cost_minor);

}  // namespace ferrule::outlook
