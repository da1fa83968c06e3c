// The closed list of findings: what each is called, which status it gives, how it reads and what
// to do next. The only place that knows the words.
#pragma once

#include <string>
#include <string_view>

#include "absl/status/status.h"
#include "absl/time/time.h"
#include "ferrule/v1/findings.pb.h"

namespace ferrule::finding {

// "UNIT_UNKNOWN" for REASON_UNIT_UNKNOWN: the reason string of error details.
std::string_view ReasonString(v1::Reason reason);

// NotFound for unknown subjects, InvalidArgument for malformed content, otherwise
// FailedPrecondition.
absl::StatusCode CodeOf(v1::Reason reason);

// Whether a named person may set this rule aside.
bool MayOverride(v1::Reason reason);

// Fills `text` and `remedy` from reason, values and evidence, with local times in `zone`:
// "repaired 2026-05-13 11:20 by tech-ada, after the inspection of 2026-05-12".
void PutIntoWords(absl::TimeZone zone, v1::Finding* finding);

}  // namespace ferrule::finding
