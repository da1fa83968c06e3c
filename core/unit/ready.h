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
  int64_t at_us = 0;       // at this true time
  std::string_view order;  // for this order; empty for any
  v1::Side side =
      v1::SIDE_UNSPECIFIED;            // side the order needs; unspecified when it does not matter
  std::string_view device_class;       // class the order needs; empty when it does not matter
  int64_t expected_return_us = 0;      // 0 when not known: service due by then is not looked at
  int64_t expected_use_s_per_day = 0;  // run time a day until then; 0 when not known
};

// Every reason why the unit may not go out, in the order of v1::Reason; empty when it is ready.
// Findings carry evidence and values, and no words yet. A value equal to a limit passes.
//
// Ready is: at a clean place of the depot (the bench is not one), cleaned since it last became
// soiled, patient data erased since it last came back where the model keeps any, passed since it
// last came back, was repaired or had a part changed, complete, service not due, no hold, free or
// held for this very order, lent to patients (own rental fleet or rented in), right side and class.
std::vector<v1::Finding> Assess(const v1::SubjectState& state, const depot::SettingsBook& book,
                                const ReadyQuery& query);

// The steps that cure those findings, in the order in which they must be done (get it back, lift
// holds, clean, erase, repair, fit parts, service, set up the side, inspect, put on a clean shelf,
// free it), each once. Steps that follow from others are included: a repaired unit is inspected
// again. Cleaning comes before repair and inspection, and storage last: ISO 17664-2:2021, scope.
std::vector<std::string> PathToReady(const std::vector<v1::Finding>& findings);

// Run time of the unit since it joined the fleet, over all meter segments, seconds.
int64_t TrueRunSeconds(const v1::Meter& meter);

}  // namespace ferrule::unit
