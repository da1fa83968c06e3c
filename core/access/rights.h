// What a principal may do in which branch: the grants of the access rules, on a day.
#pragma once

#include <cstdint>
#include <map>
#include <set>
#include <string>
#include <string_view>

#include "core/depot/settings_book.h"
#include "ferrule/v1/access.pb.h"

namespace ferrule::access {

class Rights {
 public:
  // None at all.
  Rights() = default;
  // The rights that the rules give the principal at an instant; a grant's days are those of its
  // branch, or of the first branch where it holds in all. `places` has the branches' zones.
  Rights(const v1::AccessRules& rules, const depot::Rules& places, std::string_view principal,
         int64_t now_us);
  // Every right in every branch.
  static Rights All();

  // In all branches.
  bool HasEverywhere(v1::Right right) const;
  // In that branch, or in all.
  bool Has(v1::Right right, std::string_view branch) const;
  // In some branch.
  bool HasAnywhere(v1::Right right) const;
  bool empty() const { return by_branch_.empty(); }
  // By branch; those for all branches under "".
  const std::map<std::string, std::set<v1::Right>, std::less<>>& by_branch() const {
    return by_branch_;
  }

 private:
  std::map<std::string, std::set<v1::Right>, std::less<>> by_branch_;
};

}  // namespace ferrule::access
