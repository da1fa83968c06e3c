// Time zones of the depot's branches, out of the settings.
#pragma once

#include <map>
#include <string>
#include <string_view>

#include "absl/status/statusor.h"
#include "absl/time/time.h"
#include "ferrule/v1/settings.pb.h"

namespace ferrule::cli {

class Zones {
 public:
  Zones() = default;
  explicit Zones(const v1::Settings& settings);

  // The branch's zone, or the first branch's when the branch is not known, or UTC.
  absl::TimeZone OfBranch(std::string_view branch) const;
  absl::TimeZone OfPlace(std::string_view place) const;
  // Branch of a place; empty when it is not known.
  std::string BranchOfPlace(std::string_view place) const;
  // The zone in which a typed local time is meant. `branch` empty: the one zone of all branches.
  // InvalidArgument when that is not clear, saying how to be clear.
  absl::StatusOr<absl::TimeZone> ForTyping(const std::string& branch) const;

 private:
  std::map<std::string, absl::TimeZone, std::less<>> by_branch_;
  std::map<std::string, std::string, std::less<>> branch_of_place_;
  absl::TimeZone first_ = absl::UTCTimeZone();
};

}  // namespace ferrule::cli
