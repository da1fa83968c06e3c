// The roles that the program brings, and what the depot's access rules make of them.
#pragma once

#include <set>
#include <string_view>
#include <vector>

#include "ferrule/v1/access.pb.h"

namespace ferrule::access {

// The ids of the roles that the program brings.
const std::vector<std::string_view>& BuiltInRoles();

// The rights of a role: the rules' own of that id, else the program's; none for an unknown id.
std::set<v1::Right> RightsOfRole(const v1::AccessRules& rules, std::string_view role);

// Whether there is a role of that id.
bool IsRole(const v1::AccessRules& rules, std::string_view role);

}  // namespace ferrule::access
