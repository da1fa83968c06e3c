// The ladder of contact: what follows a pick-up that failed, by the settings.
#pragma once

#include <optional>
#include <string>

#include "absl/time/civil_time.h"
#include "absl/time/time.h"
#include "ferrule/v1/settings.pb.h"
#include "ferrule/v1/states.pb.h"

namespace ferrule::papers {

// "2 pick-ups failed, the last 2026-03-20 (nobody home)"; empty when none did. Days are local to
// the zone.
std::string FailedPickups(const v1::OrderState& order, absl::TimeZone zone);

struct NextStep {
  absl::CivilDay failed;             // day of the last failure
  std::string text;                  // what failed, what is next and by when
  std::optional<absl::CivilDay> by;  // none when the settings have no ladder
};

// The step that the last failure leads to; after the ladder's last one it stays there. None when no
// pick-up failed, or when another day was agreed since.
std::optional<NextStep> NextStepOf(const v1::OrderState& order, const v1::ContactPolicy& policy,
                                   absl::TimeZone zone);

}  // namespace ferrule::papers
