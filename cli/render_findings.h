// Findings as numbered reasons, each with its evidence and what to do next.
#pragma once

#include <string>

#include "absl/time/time.h"
#include "cli/render_table.h"
#include "ferrule/v1/findings.pb.h"
#include "google/protobuf/repeated_ptr_field.h"

namespace ferrule::cli {

using Findings = google::protobuf::RepeatedPtrField<v1::Finding>;

// A finding's reason as it is typed after --override: "repaired-after-inspection".
std::string RuleWord(v1::Reason reason);
// Inverse, also for REPAIRED_AFTER_INSPECTION; REASON_UNSPECIFIED when there is none.
v1::Reason RuleOf(const std::string& word);

//   1. repaired 2026-05-13 11:20 by tech-ada, after the inspection of 2026-05-12
//      -> inspect it again
std::string FindingLines(const Findings& findings);

// One row a finding, times in the zone.
Table FindingTable(const Findings& findings, absl::TimeZone zone);

}  // namespace ferrule::cli
