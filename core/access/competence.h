// Who may do which work: competences with their days, where the access rules ask for them.
#pragma once

#include <string_view>

#include "absl/time/civil_time.h"
#include "ferrule/v1/access.pb.h"
#include "ferrule/v1/facts.pb.h"

namespace ferrule::access {

// The name of a fact's kind, "repair_closed"; empty for a fact without content.
std::string_view KindOf(const v1::Fact& fact);
// Whether there is a kind of fact of that name.
bool IsKind(std::string_view kind);

// Whether the rules have a competence for this kind of work, of anybody, on any day.
bool IsOnRecord(const v1::AccessRules& rules, std::string_view kind);

// Whether the person may have done such work on the day, local to where it was done. True for kinds
// for which the rules ask no competence.
bool MayHaveDone(const v1::AccessRules& rules, std::string_view person, std::string_view kind,
                 absl::CivilDay day);

}  // namespace ferrule::access
