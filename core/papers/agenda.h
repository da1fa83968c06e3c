// What a branch has to do on a day, order by order: deliveries, pick-ups, units due, steps after a
// pick-up that failed, calls. The days ahead are the depot's contact policy.
#pragma once

#include <string>
#include <vector>

#include "absl/time/civil_time.h"
#include "core/depot/settings_book.h"
#include "ferrule/v1/papers_service.pb.h"
#include "ferrule/v1/states.pb.h"

namespace ferrule::papers {

struct OrderAgenda {
  std::vector<v1::AgendaItem> items;
  // Why the patient is not rung, where a call would be due; empty otherwise.
  std::string not_rung;
};

// What is to be done about one order on `day` or should have been done before. Nobody rings a
// patient who has died, is in a hospital or a facility, or whose order is cancelled.
OrderAgenda AgendaOf(const v1::SubjectState& state, absl::CivilDay day,
                     const depot::SettingsBook& book, const depot::Rules& rules);

// Deliveries, pick-ups, units due, steps, checks, calls; the longest overdue first in each.
void Sort(std::vector<v1::AgendaItem>* items);

}  // namespace ferrule::papers
