#include "cli/zones.h"

#include "absl/strings/str_cat.h"
#include "core/time/civil.h"

namespace ferrule::cli {
namespace {

constexpr const char* kNoBranches =
    "the depot has no branches yet, so that a local time means nothing; give it with its offset, "
    "as in 2026-11-25T14:05:00+01:00";

}  // namespace

Zones::Zones(const v1::Settings& settings) {
  for (const v1::Branch& branch : settings.branches()) {
    const auto zone = time::Zone(branch.time_zone());
    if (!zone.ok()) continue;
    if (by_branch_.empty()) first_ = *zone;
    by_branch_[branch.id()] = *zone;
    for (const v1::Place& place : branch.places()) branch_of_place_[place.id()] = branch.id();
  }
}

absl::TimeZone Zones::OfBranch(std::string_view branch) const {
  const auto found = by_branch_.find(branch);
  return found == by_branch_.end() ? first_ : found->second;
}

absl::TimeZone Zones::OfPlace(std::string_view place) const {
  return OfBranch(BranchOfPlace(place));
}

std::string Zones::BranchOfPlace(std::string_view place) const {
  const auto found = branch_of_place_.find(place);
  return found == branch_of_place_.end() ? std::string() : found->second;
}

absl::StatusOr<absl::TimeZone> Zones::ForTyping(const std::string& branch) const {
  if (!branch.empty()) {
    const auto found = by_branch_.find(branch);
    if (found != by_branch_.end()) return found->second;
    std::string list;
    for (const auto& [id, zone] : by_branch_) absl::StrAppend(&list, list.empty() ? "" : ", ", id);
    return absl::InvalidArgumentError(
        absl::StrCat("there is no branch '", branch, "' whose local time could be meant; ",
                     list.empty() ? std::string(kNoBranches) : absl::StrCat("branches: ", list)));
  }
  if (by_branch_.empty()) {
    return absl::InvalidArgumentError(
        absl::StrCat(kNoBranches, ", or put settings in force first"));
  }
  for (const auto& [id, zone] : by_branch_) {
    if (zone == first_) continue;
    return absl::InvalidArgumentError(
        absl::StrCat("the branches keep different times (", by_branch_.begin()->first, ": ",
                     by_branch_.begin()->second.name(), ", ", id, ": ", zone.name(),
                     "); say which with --branch, or give the time with its offset"));
  }
  return first_;
}

}  // namespace ferrule::cli
