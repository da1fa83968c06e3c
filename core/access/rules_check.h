// What access rules may say.
#pragma once

#include <string>
#include <vector>

#include "ferrule/v1/access.pb.h"
#include "ferrule/v1/settings.pb.h"

namespace ferrule::access {

struct RulesError {
  std::string field;    // path, "grants[0].role"
  std::string message;  // what is wrong and what would be right
};

// Everything that is wrong with the rules; `settings` say which branches there are.
std::vector<RulesError> CheckRules(const v1::AccessRules& rules, const v1::Settings& settings);

}  // namespace ferrule::access
