#include "core/access/rights.h"

#include <algorithm>

#include "core/access/dated.h"
#include "core/access/roles.h"
#include "core/time/civil.h"

namespace ferrule::access {
namespace {

absl::CivilDay DayIn(const depot::Rules& rules, std::string_view branch, int64_t now_us) {
  if (!branch.empty()) return time::LocalDay(now_us, rules.ZoneOf(branch));
  const auto& branches = rules.settings().branches();
  const absl::TimeZone zone =
      branches.empty() ? absl::UTCTimeZone() : rules.ZoneOf(branches.Get(0).id());
  return time::LocalDay(now_us, zone);
}

}  // namespace

Rights::Rights(const v1::AccessRules& rules, const depot::Rules& places, std::string_view principal,
               int64_t now_us) {
  const auto add = [&](const v1::Grant& grant, const std::string& branch) {
    if (!HoldsOn(grant, DayIn(places, branch, now_us))) return;
    const std::set<v1::Right> rights = RightsOfRole(rules, grant.role());
    by_branch_[branch].insert(rights.begin(), rights.end());
  };
  for (const v1::Grant& grant : rules.grants()) {
    if (grant.principal() != principal) continue;
    if (grant.branches().empty()) add(grant, "");
    for (const std::string& branch : grant.branches()) add(grant, branch);
  }
}

Rights Rights::All() {
  Rights out;
  const auto* type = v1::Right_descriptor();
  for (int i = 1; i < type->value_count(); ++i) {
    out.by_branch_[""].insert(static_cast<v1::Right>(type->value(i)->number()));
  }
  return out;
}

bool Rights::HasEverywhere(v1::Right right) const {
  const auto all = by_branch_.find("");
  return all != by_branch_.end() && all->second.contains(right);
}

bool Rights::Has(v1::Right right, std::string_view branch) const {
  if (HasEverywhere(right)) return true;
  const auto there = by_branch_.find(branch);
  return there != by_branch_.end() && there->second.contains(right);
}

bool Rights::HasAnywhere(v1::Right right) const {
  return std::any_of(by_branch_.begin(), by_branch_.end(),
                     [right](const auto& branch) { return branch.second.contains(right); });
}

}  // namespace ferrule::access
