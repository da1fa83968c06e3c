// A rental of spec.h told as it would be told to a depot: the settings, the facts in their order,
// and for each fact the words of the counter that record it. So one case can be asked of the pure
// counting, of the service and of the program.
#pragma once

#include <cstdint>
#include <string>
#include <vector>

#include "ferrule/v1/facts.pb.h"
#include "ferrule/v1/settings.pb.h"

namespace ferrule::testing {

struct ToldFact {
  int64_t at_us = 0;
  v1::Fact fact;
  std::string command;  // without --at
};

// A depot's settings with the payer terms, days off and time zone of the rental: `base` is their
// text, whose branch "north" and model "knee-a" the facts name.
v1::Settings SettingsOf(const std::string& line, const std::string& base);

// In the order of their times; those of a rental that has no fact for something leave it out.
std::vector<ToldFact> FactsOf(const std::string& line);

}  // namespace ferrule::testing
