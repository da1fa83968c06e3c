#include "core/papers/delivery.h"

#include <algorithm>
#include <optional>

#include "core/time/civil.h"

namespace ferrule::papers {
namespace {

// The first day on which the patient was at home, if it is known to be later than `day`.
std::optional<absl::CivilDay> HomeAfter(const v1::OrderState& order, absl::CivilDay day) {
  for (const v1::PatientStay& stay : order.stays()) {
    if (stay.stay() != v1::STAY_HOME || !time::IsValid(stay.from_date())) continue;
    const absl::CivilDay home = time::ToDay(stay.from_date());
    if (home > day) return home;
    return std::nullopt;
  }
  return std::nullopt;
}

void AddTicketFaults(const v1::TicketReturned& ticket, absl::CivilDay handed_over,
                     v1::AssessDeliveryResponse* out) {
  if (!time::IsValid(ticket.signed_date())) {
    out->add_faults(v1::DELIVERY_FAULT_NO_DATE);
  } else {
    *out->mutable_signed_date() = ticket.signed_date();
    if (time::ToDay(ticket.signed_date()) != handed_over) {
      out->add_faults(v1::DELIVERY_FAULT_OTHER_DATE);
    }
  }
  if (ticket.signer_is_of_depot()) {
    out->add_faults(v1::DELIVERY_FAULT_SIGNED_BY_DEPOT);
  } else if (ticket.signed_by().empty()) {
    // A day without a relationship was written by somebody; without a day nobody signed.
    out->add_faults(ticket.has_signed_date() ? v1::DELIVERY_FAULT_NO_RELATIONSHIP
                                             : v1::DELIVERY_FAULT_NO_SIGNATURE);
  }
  if (!ticket.items_described()) out->add_faults(v1::DELIVERY_FAULT_NO_DESCRIPTION);
  if (!ticket.legible()) out->add_faults(v1::DELIVERY_FAULT_NOT_LEGIBLE);
}

}  // namespace

v1::AssessDeliveryResponse AssessDelivery(const v1::OrderState& order) {
  v1::AssessDeliveryResponse out;
  if (!time::IsValid(order.handed_over_date())) {
    out.add_faults(v1::DELIVERY_FAULT_NOT_DELIVERED);
  } else {
    *out.mutable_handed_over_date() = order.handed_over_date();
    const absl::CivilDay handed_over = time::ToDay(order.handed_over_date());
    if (order.has_ticket()) {
      AddTicketFaults(order.ticket().ticket(), handed_over, &out);
    } else {
      out.add_faults(v1::DELIVERY_FAULT_NO_TICKET);
    }
    const absl::CivilDay day = out.has_signed_date() ? time::ToDay(out.signed_date()) : handed_over;
    *out.mutable_service_date() = time::FromDay(HomeAfter(order, day).value_or(day));
  }
  // Another day than the records' is shown and does not void the proof.
  out.set_proved(std::all_of(out.faults().begin(), out.faults().end(),
                             [](int fault) { return fault == v1::DELIVERY_FAULT_OTHER_DATE; }));
  for (int fault : out.faults()) out.add_words(Words(static_cast<v1::DeliveryFault>(fault)));
  return out;
}

std::string Words(v1::DeliveryFault fault) {
  switch (fault) {
    case v1::DELIVERY_FAULT_NOT_DELIVERED:
      return "nothing was handed over yet";
    case v1::DELIVERY_FAULT_NO_TICKET:
      return "no ticket has come back: the rep brings it and notes it with ferrule ticket";
    case v1::DELIVERY_FAULT_NO_SIGNATURE:
      return "nobody signed: the patient, or somebody for the patient, signs";
    case v1::DELIVERY_FAULT_NO_RELATIONSHIP:
      return "the signer's relationship to the patient is not stated: ask the signer";
    case v1::DELIVERY_FAULT_SIGNED_BY_DEPOT:
      return "somebody of the depot signed: it proves nothing; the patient signs a new one";
    case v1::DELIVERY_FAULT_NO_DATE:
      return "the day beside the signature is missing: the signer adds it";
    case v1::DELIVERY_FAULT_NO_DESCRIPTION:
      return "the items are not described: print a new ticket and have it signed";
    case v1::DELIVERY_FAULT_NOT_LEGIBLE:
      return "it cannot be read: have a new one signed";
    case v1::DELIVERY_FAULT_OTHER_DATE:
      return "the day beside the signature is another one than that of the hand-over: both are "
             "kept, and the payer's rule says which counts";
    default:
      return "not stated";
  }
}

}  // namespace ferrule::papers
