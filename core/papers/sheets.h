// The papers themselves: delivery ticket, set-up sheet, pick-up ticket, call list, agenda. They are
// filled from the records and leave lines for what only the home can tell. Particulars of a person
// are never in the records; where a form needs a name, there is a line to write it on. Nothing on
// them is a therapy setting that no order gives.
#pragma once

#include <string>
#include <string_view>

#include "absl/time/civil_time.h"
#include "core/depot/settings_book.h"
#include "core/papers/page.h"
#include "ferrule/v1/papers_service.pb.h"
#include "ferrule/v1/states.pb.h"

namespace ferrule::papers {

struct OrderPaper {
  const v1::OrderState& order;
  const v1::UnitState* unit;  // that goes out or is out; null when none is known
  absl::CivilDay day;         // local to the branch
  const depot::Rules& rules;
};

Page DeliveryTicket(const OrderPaper& paper);
// With the limits of the day by the order's progression, the arithmetic of a session and what to
// ask the prescriber.
Page SetUpSheet(const OrderPaper& paper);
Page PickupTicket(const OrderPaper& paper);

Page CallList(const v1::GetAgendaResponse& agenda, const std::string& branch_name);
Page Agenda(const v1::GetAgendaResponse& agenda, const std::string& branch_name);

// "the end of the prescription".
std::string_view BasisWords(v1::DueBasis basis);

}  // namespace ferrule::papers
