// What goes back to the systems that send: acknowledgements, and the status of their own orders.
#pragma once

#include <cstdint>
#include <string>
#include <string_view>

#include "absl/status/statusor.h"
#include "core/exchange/hl7_text.h"
#include "core/intake/intake.h"

namespace ferrule::intake {

// The acknowledgement of a message that came to that end.
std::string Acknowledge(Intake& intake, std::string_view message_bytes,
                        const v1::IntakeMessage& message, exchange::Hl7Answer::Mode mode,
                        int64_t now_us);

// An order's status for its referrer: NotFound, in the words for an order that does not exist, when
// the referrer's issuer never sent it.
absl::StatusOr<v1::ExportOrderResponse> ExportOrder(Intake& intake, const v1::OrderState& order,
                                                    const v1::ExportOrderRequest& request,
                                                    int64_t now_us);

}  // namespace ferrule::intake
