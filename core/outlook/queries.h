// The statements of looking ahead, one text for both engines.
#pragma once

#include "core/store/connection.h"

namespace ferrule::outlook::sql {

inline constexpr store::Sql kSubjectId{"outlook_subject_id",
                                       "SELECT id FROM states WHERE name = $1"};

}  // namespace ferrule::outlook::sql
