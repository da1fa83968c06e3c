// Whether a delivery is proved. The elements are those that United States suppliers are asked for:
// a signature of the patient or of somebody whose relationship is stated, never of an employee or
// of anyone paid by the supplier; what was delivered; the day (proof-of-delivery pages of the
// Medicare contractors, as read 2025; from memory which edition). Local rules may ask for more.
#pragma once

#include <string>

#include "core/depot/settings_book.h"
#include "ferrule/v1/papers_service.pb.h"
#include "ferrule/v1/states.pb.h"

namespace ferrule::papers {

// Fills all but the name. The day of service is the day beside the signature or, without one, the
// day of the hand-over; when the patient came home later, it is the day of coming home.
v1::AssessDeliveryResponse AssessDelivery(const v1::OrderState& order);

// "no ticket has come back: the rep brings it".
std::string Words(v1::DeliveryFault fault);

}  // namespace ferrule::papers
