// What facts about the life of an order leave in its state: papers, stays, use, authorisations,
// confirmations, bills and payers. Each function only keeps; what the fact breaks is raised by the
// fold.
#pragma once

#include <string>

#include "absl/time/time.h"
#include "core/fact/fact_view.h"
#include "ferrule/v1/facts.pb.h"
#include "ferrule/v1/states.pb.h"

namespace ferrule::order {

void NotePaper(const fact::FactView& view, const v1::OrderExtended& f, v1::OrderState* order);
void NotePaper(const fact::FactView& view, const v1::OrderStopped& f, v1::OrderState* order);
// A cancellation while a unit is out ends the prescription on that day, until the order is valid
// again.
void NoteCancelledOut(const fact::FactView& view, const google::type::Date& day,
                      v1::OrderState* order);
void NoteValidAgain(v1::OrderState* order);
void NoteAuthorisation(const fact::FactView& view, const v1::AuthorisationNoted& f,
                       v1::OrderState* order);
// The day is the local one in `zone` at the fact's time.
void NoteStay(const fact::FactView& view, const v1::PatientStayNoted& f, absl::TimeZone zone,
              v1::OrderState* order);
void NoteUse(const fact::FactView& view, const v1::UseNoted& f, absl::TimeZone zone,
             v1::OrderState* order);
void NoteBilled(const fact::FactView& view, const v1::DaysBilled& f, v1::OrderState* order);
// Replaces an earlier confirmation of the same kind.
void NoteConfirmation(const fact::FactView& view, const v1::DetailsConfirmed& f, std::string value,
                      v1::OrderState* order);
// The payer that the details name, from its first day on; without one it is the first payer.
void NotePayer(const v1::OrderDetails& details, v1::OrderState* order);
// An order that names this one as the earlier one.
void NoteFollowing(const std::string& following, v1::OrderState* order);

}  // namespace ferrule::order
