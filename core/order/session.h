// The arithmetic of a session of motion.
#pragma once

#include <optional>

#include "ferrule/v1/motion.pb.h"
#include "ferrule/v1/promise_service.pb.h"

namespace ferrule::order {

// A cycle goes over the arc and back at the speed given and pauses at either end; so 0 to 90
// degrees at 150 a minute take 72 s a cycle and make 50 cycles an hour, and with 5 s at each end
// 82 s and 43.9 (common practice, no source). A pause that is not given counts as none. None
// without both limits, with an arc of 0, or without a speed.
std::optional<v1::SessionFigures> SessionOf(const v1::Motion& motion);

}  // namespace ferrule::order
