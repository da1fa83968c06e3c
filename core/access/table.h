// The one table of authority: which right a call or a kind of fact needs, and in which branch it is
// asked for. What is not in it is refused.
#pragma once

#include <string_view>
#include <vector>

#include "ferrule/v1/access.pb.h"
#include "ferrule/v1/facts.pb.h"

namespace ferrule::access {

// Where a right must hold for a call.
enum class Scope {
  kOpen,       // nobody has to say who they are: health alone
  kKnown,      // whoever is known, without a right
  kAnyBranch,  // the right in any branch at all
  kRequested,  // in the branches that the request names, itself or by a unit, an order or a place;
               // in all of them when it names none
  kDepot,      // in all branches
  kFacts,      // by each fact of the request
};

struct MethodRule {
  std::string_view path;  // "/ferrule.v1.DepotService/GetUnit"
  v1::Right right = v1::RIGHT_UNSPECIFIED;
  Scope scope = Scope::kDepot;
};

// Every method there is, by path.
const std::vector<MethodRule>& MethodRules();
// Null for a method that is not in the table.
const MethodRule* RuleOf(std::string_view path);

// What recording a fact needs; RIGHT_UNSPECIFIED, which nobody has, for a fact without content.
v1::Right RightFor(v1::Fact::WhatCase what);

// Whether a right lets see and changes nothing: such a right alone is given through broken glass.
bool IsReading(v1::Right right);

}  // namespace ferrule::access
