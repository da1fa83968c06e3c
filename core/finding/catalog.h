// The closed list of findings: what each is called, which status it gives, how it reads and what
// to do next. The only place that knows the words.
//
// The words draw on a finding's values and evidence; what is not given is left out of the sentence.
// Evidence [0] is the newer record, the one that voids or forbids; [1] is the older one that it
// voids. Values are texts as people read them, under these keys:
//   unit, order, part, lot           bare ids; the finding's own subject need not be given
//   place, from, model, class, branch, position, item, kind    what the fact or the records name
//   found                            what was read or given
//   expected                         what the records, the order or the settings say
//   limit                            the bound that was broken, with its unit of measure
//   due, until, basis                days, and what is counted ("days", "hours", "turns")
//   list                             several things in one text
// KeysOf gives the keys that one reason's words use.
#pragma once

#include <string>
#include <string_view>
#include <vector>

#include "absl/status/status.h"
#include "absl/time/time.h"
#include "ferrule/v1/findings.pb.h"

namespace ferrule::finding {

// "UNIT_UNKNOWN" for REASON_UNIT_UNKNOWN: the reason string of error details; "OTHER" for a number
// that is no reason of this release.
std::string_view ReasonString(v1::Reason reason);

// NotFound for what the records or the settings do not have, InvalidArgument for content that no
// later record could make right, otherwise FailedPrecondition.
absl::StatusCode CodeOf(v1::Reason reason);

// Whether a named person may set this rule aside; the catalog says beside each rule why.
bool MayOverride(v1::Reason reason);

// The keys that the reason's text and remedy use, `newer.when` and the like included.
std::vector<std::string_view> KeysOf(v1::Reason reason);

// Fills `text` and `remedy` from reason, values and evidence, with local times in `zone`:
// "K-0417 cannot go out: it was repaired 2026-05-13 11:20 by tech-ada, after its last inspection
// 2026-05-12 09:10 by tech-bo", "inspect it again".
void PutIntoWords(absl::TimeZone zone, v1::Finding* finding);

}  // namespace ferrule::finding
