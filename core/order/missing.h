// The two completeness checks of an order: enough to go out, and enough to bill.
#pragma once

#include <string>
#include <vector>

#include "core/depot/settings_book.h"
#include "ferrule/v1/cover_service.pb.h"
#include "ferrule/v1/states.pb.h"

namespace ferrule::order {

// Everything that an order lacks, with who must supply it; first what keeps it from going out, each
// thing once. What a claim must be able to say is the payer terms' to rule; terms that say nothing
// of it need the signed written order and the signed delivery ticket (42 CFR 410.38 and the
// contractors' pages on proof of delivery, as given by secondary texts).
std::vector<v1::MissingItem> Missing(const v1::OrderState& order, const depot::Rules& rules);

// "side, from the prescriber; length of need, from the prescriber".
std::string InOneLine(const std::vector<v1::MissingItem>& items);

// Whether whoever signed for a unit may do so: not an employee of the depot (the contractors' pages
// on proof of delivery).
bool MaySignFor(const std::string& relationship);

}  // namespace ferrule::order
