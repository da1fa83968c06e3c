// Single subjects asked by name.
#pragma once

#include <string>

#include "absl/status/statusor.h"
#include "cli/session.h"
#include "ferrule/v1/depot_service.pb.h"

namespace ferrule::cli {

// The unit as it is now, by tag. NotFound when there is none.
absl::StatusOr<v1::UnitState> LookUpUnit(Session& session, const std::string& unit);

// The order, by number. NotFound when there is none.
absl::StatusOr<v1::OrderState> LookUpOrder(Session& session, const std::string& order);

// A subject's full name from what was typed: a full name as it is; a bare id is looked for among
// units, orders, parts and lots, in that order. NotFound when it is none of them.
absl::StatusOr<std::string> FullName(Session& session, const std::string& typed);

}  // namespace ferrule::cli
