#include "core/board/ready_query.h"

#include "core/order/due.h"
#include "core/time/civil.h"

namespace ferrule::board {

void FillFromOrder(const v1::OrderState& order, const depot::Rules& rules,
                   unit::ReadyQuery* query) {
  const v1::OrderDetails& details = order.details();
  query->side = details.side();
  query->device_class = details.device_class();
  query->expected_use_s_per_day = details.motion().daily_use_s();
  const absl::TimeZone zone = rules.ZoneOf(details.branch());
  const std::optional<absl::CivilDay> last =
      order::LastDayOfUse(order, time::LocalDay(query->at_us, zone));
  if (last) query->expected_return_us = time::StartOfDayMicros(*last + 1, zone);
}

}  // namespace ferrule::board
