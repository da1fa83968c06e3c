// Findings in words, with the local times of the branch that the subject belongs to.
#pragma once

#include <string_view>

#include "absl/time/time.h"
#include "core/ledger/ledger.h"
#include "ferrule/v1/findings.pb.h"
#include "ferrule/v1/states.pb.h"

namespace ferrule::service {

// The zone of the branch where a unit stands, or that serves an order; the first branch's for other
// subjects; UTC without settings.
absl::TimeZone ZoneOfSubject(ledger::Ledger& ledger, std::string_view subject_name);

// Puts a finding into words when it has none yet.
void PutIntoWords(ledger::Ledger& ledger, v1::Finding* finding);

// Whether a state has findings, which leave in words.
bool HasFindings(const v1::SubjectState& state);
void PutIntoWords(ledger::Ledger& ledger, v1::SubjectState* state);

}  // namespace ferrule::service
