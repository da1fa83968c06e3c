// The payer terms that an order falls under, and the last day of cover by one reading of them.
#pragma once

#include <optional>
#include <string_view>

#include "absl/time/civil_time.h"
#include "core/depot/settings_book.h"
#include "ferrule/v1/cover.pb.h"
#include "ferrule/v1/states.pb.h"

namespace ferrule::order {

// The payer that answers for a day; empty when the order names none for it.
std::string_view PayerOn(const v1::OrderState& order, absl::CivilDay day);
// The payer of the first day in the home, or of the order as it stands before it.
std::string_view FirstPayer(const v1::OrderState& order);

// The first of the payer's rules that fits the order's class of device and its procedure (the code
// if it has one, otherwise its words); null when the payer has no such rule or no terms at all.
const v1::CoverRule* FindCoverRule(const v1::OrderState& order, std::string_view payer,
                                   const depot::Rules& rules);

// The last day of cover, inclusive: the anchor's day plus the length less the anchor's own number.
// None without a limit or while the anchor is not known. Where days away stop the count, each of
// them makes it a day longer, and there is none while the patient is away and the count not over.
std::optional<absl::CivilDay> CoverThrough(const v1::OrderState& order, const v1::CoverRule& rule,
                                           const v1::CoverReading& reading);

// The last day of cover as the order itself says, or else by the first reading of its payer's rule.
std::optional<absl::CivilDay> CoverEnd(const v1::OrderState& order, const depot::Rules& rules);

enum class Start { kInTime, kTooLate, kUnknown };

// Whether the first use is within the reading's window; hours are elapsed ones between two
// instants, and unknown without the instant of the operation. kInTime without a window.
Start StartOf(const v1::OrderState& order, const v1::CoverReading& reading,
              const depot::Rules& rules);

}  // namespace ferrule::order
