// Ready to go: worked out from the three axes, never typed, with every reason why not and the
// shortest path to ready.
#pragma once

#include <cstdint>
#include <string>
#include <string_view>
#include <vector>

#include "core/depot/settings_book.h"
#include "ferrule/v1/states.pb.h"

namespace ferrule::unit {

// What the unit would go out for.
struct ReadyQuery {
  int64_t at_us = 0;                  // at this true time
  std::string_view order;             // for this order; empty for any
  v1::Side side = v1::SIDE_UNSPECIFIED;  // side the order needs; unspecified when it does not matter
  std::string_view device_class;      // class the order needs; empty when it does not matter
  int64_t expected_return_us = 0;     // 0 when not known: service before then is not looked at
};

// Every reason why the unit may not go out, in the order of v1::Reason; empty when it is ready.
// Findings carry evidence and values, and no words yet.
std::vector<v1::Finding> Assess(const v1::SubjectState& state, const depot::SettingsBook& book,
                                const ReadyQuery& query);

// The steps that cure those findings, in the order in which they must be done (receive, lift hold,
// repair, clean, erase, fit parts, service, inspect, put on a clean shelf), each once.
std::vector<std::string> PathToReady(const std::vector<v1::Finding>& findings);

// True run time of the unit over all meter segments, seconds.
int64_t TrueRunSeconds(const v1::Meter& meter);

}  // namespace ferrule::unit
